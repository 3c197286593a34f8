"""From any code back to what went in and onward to where it went, with shares and the balance.

Modules:

- `drawing`: A trace as a drawing: a box for each lot and batch, a line with its quantity for each step. Pure; no
  query.
- `finding`: From whatever is written on a jar, a pail or a paper to the lots and batches it stands for.
- `holders`: Who has some of what is traced: everybody once, with all that went to them and has not come back. Pure;
  no query.
- `layout`: Where the boxes and lines of a drawn graph stand: in columns from left to right, with few lines
  crossing.
- `lot_panel`: The parts of the stock pages that lead to batches: of a lot's page, and of a posting's.
- `mass_balance`: Mass balance: what came against what went and what is there, and the remainder nothing explains.
- `shares`: How much of a lot is in whatever descends from it, and how much of its ancestors is in a lot: worked out
  by share.
- `table`: A trace as a table: a row for each step and for each place where something of the root is. Pure; no
  query.
- `trace`: From any lot or batch: what went into it, where it went, and how much of it is where. Read in a few
  queries.
- `trace_pdf`: The printed trace: what went in, where it is, who has it, and the same as an indented list.
- `trace_pdf_drawing`: The drawing of a trace on paper: one page lying on its side, as many boxes as stay readable.
- `trace_text`: The texts of the printed trace.
- `tree`: A trace as an indented list: what went into what, unfolded once, again only named. Pure; no query.
- `views`: From a code to what went in, where it went, and how much of it is where.

Decisions that bind:

- How much of a lot is where is exact fractions that add up to all it held.
- An open batch is shared over what was planned, the rest in progress.
- A lot's remainder is what only counts explain; a batch's is held against the limit beyond the formula's expected
  loss. A gap of the ledger is an error.
- A drawing shows the nearest 150 lots and batches; on paper one page, letters of six points at least.
- Shipped is what left less what came back of it.
"""
