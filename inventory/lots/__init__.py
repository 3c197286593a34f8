"""What can happen to a lot on the shelf: decant, move, hold, take out; which lots to take first.

Modules:

- `decanting`: Decanting: part of a lot moves into other containers, each of which becomes a lot of its own.
- `family`: Which lots were decanted into which, and which came back as which; and statements asked for many keys at
  once.
- `forms`: What people type about a lot: its code, an amount of it, where it stands, the owner's word about it.
- `forms_adjusting`: What people type when stock is decanted, taken out, found or corrected.
- `holding`: Lots are put on hold, released, allowed all the same and relabeled, with a name and a reason that stay
  on record.
- `moving`: Stock moves: drawn into a batch, made by one; and a cost that is corrected afterwards.
- `reversals`: What follows in stock when a decanting is reversed; see `inventory.ledger.reversals`.
- `shelves`: The lots on the shelf that may be used, as the suggestion of lots sees them.
- `succession`: A code that was given out never leads nowhere: where what brought a lot was reversed, this says to
  which lots it leads on, or by whom, when and why it ended.
- `suggestion`: Which lots to take for a need: as few as possible, and among those the first to expire.
- `views`: Lots: what one holds, where it came from, where it went, and whether it may be used.
- `views_adjusting`: Decanting, scrap, samples, goods back to the supplier, found stock, and quantities corrected.
- `write_offs`: Stock that leaves or appears outside a batch: scrap, samples, back to the supplier, found,
  corrected.

Decisions that bind:

- Found stock is worth nothing: the ledger carries what was paid.
- What clings to an emptied container is scrap worth nothing; what came out carries the whole cost.
- A quantity entered in the wrong unit is adjusted without touching the value.
- The fewest lots are suggested, then the first to expire: each lot more widens a recall.
- A hold passes on to what is decanted, entered again or returned, until it is released. Its reason is of any
  length.
- The same result (batch, result, item) entered again goes into its old lot, since the code is on the jars; going
  back past this is refused once a lot has two lines.
"""
