"""The list of items and an item's page, which show what every other folder knows of it.

Modules:

- `history`: What an item's page plots: its level, day by day, and what it cost.
- `views`: Items and suppliers: what is kept, how much of it is there, and who sells it.
- `views_ledger`: An item's ledger: every line of the books about it, filtered, each with what was there after it.

Decisions that bind:

- The only folder that may know every other one about an item; it stores nothing.
"""
