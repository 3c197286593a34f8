"""The stock books: the one place that writes movements, closing, reservations.

Modules:

- `books`: The stock books. The only module that writes postings, movements and the balances cached on lots.
- `bulk_books`: The stock books, second half: many lots or many movements written at once, for tables imported from
  before.
- `closing`: Closing the books up to a day: nothing is posted before it any more, and what was wrong is corrected
  after it.
- `forms`: When something happened that goes into the books: never where they are closed, and the form says up to
  when.
- `new_lots`: How a lot begins, whichever way it came: with the next code of its own, empty, in its item's usual
  place.
- `overrides`: Which lots a posting took that something stood against: by the owner's override, or with a reason, to
  be reviewed.
- `reservations`: Stock promised to what will need it: a planned batch, a customer's order. The only writer of
  reservations.
- `reversals`: What follows when a posting is reversed, in folders the ledger does not know.
- `views`: The books as they were written: every posting, and the reversal of those that may be reversed by
  themselves.

Decisions that bind:

- Only `books` and `bulk_books` write movements and balances; nothing of stock but the floor is imported here.
- A lot's value is a total, not a unit cost: only a total conserves to the last millionth.
- A reversal stands at the time of what it reverses, or at the first moment after a closing; `recorded_at` keeps its
  own day.
- Draws and yields are corrected on the batch's page only; their postings show no Reverse button.
- A closing is never taken back. Mistakes in a closed time are corrected at the first moment after it; minutes and
  rates may not begin in it either.
- On PostgreSQL postings and a closing are kept apart by the lock on the table of postings: a trigger does not see
  what is not committed.
- The owner may override a hold or an expiry until a day; a new hold ends the override, and the reason stays with
  what used the lot.
- What follows a reversal is told by followers (`studio/wiring.py`), in their order.
"""
