"""A shop's own export of its orders, imported by a mapping kept for that shop.

Modules:

- `forms`: What people say of a shop: its name, what its columns hold, and which of its products are which of ours.
- `import_service`: A shop's orders are imported: whole or not at all, and an order that came in once never again.
- `planning`: What bringing a shop's file in would do now: which orders are new, known, changed meanwhile, and by
  which lots.
- `reading`: A shop's file understood: rows put together to orders by their reference, every problem with its row
  and column.
- `views`: Shops whose orders are imported: each with its columns and products, a file looked at first, then
  imported.

Decisions that bind:

- An order is known again by shop and reference. A change in the shop is shown and changes nothing here.
- Orders that left already take lots that were there at noon of their day.
- A file names people, so it waits one day and is left out of the export.
"""
