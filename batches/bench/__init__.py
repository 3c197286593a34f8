"""Weighing at the pot: what the tablet is told and sends, tolerance and overshoot.

Modules:

- `entries`: What can happen at the bench: one entry after the other, each taken in once, however often the tablet
  sends it.
- `forms`: What a tablet sends from the bench, read into an entry. Figures are whole numbers in base units.
- `meanwhile`: Two tablets at one batch: a weight that was entered without knowing what another had put into the pot
  meanwhile.
- `state`: Everything a tablet needs to weigh a batch, with the network or without: plain figures, ready for JSON.
- `views`: The bench: its page, what the tablet asks, and what it sends. Answers to scripts are JSON, refusals with
  a sentence.

Decisions that bind:

- An entry has the tablet's key, is looked for under the batch's lock and written last, in the transaction of its
  work; a refused entry keeps its key.
- An entry lies between plan and now by the tablet's clock, otherwise when it arrived. It is sent only under the
  name it was entered under.
- A reading, note or photo taken back stays, marked; a draw is reversed. A finished batch takes nothing back here.
- The service worker reaches /batches/ alone and keeps the bench, network first.
- The room's temperature is a step nothing waits for.
- Two tablets: an entry says what was known to be in, and the person is asked where that is now too much.
- Wax beyond the plan asks for fragrance in its proportion. Only mg, g, kg, oz and lb are read from a scale, at
  rest.
"""
