"""What is kept in stock: its page, levels and prices over time, the ledger of its movements.

Modules:

- `forms`: What people type about stock, turned into exact figures or a sentence beside the field.
- `ledger_lines`: An item's or a lot's lines in the books, each with what was there after it, however few of them
  are shown.
- `levels`: How much of an item was there at the end of each day: from its movements, whatever their number, in one
  query.
- `prices`: What an item cost over time: what was paid on deliveries, and what suppliers quoted.
- `stock`: What is on the shelf, item by item, answered in a fixed number of queries.

Decisions that bind:

- "Can be replaced by" is one field: a stand-in for what is still bought, a successor for what is archived.
"""
