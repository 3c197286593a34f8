"""Sales orders: who wants what by when, how far each has got, and what is ready for it.

Modules:

- `checks`: What `manage.py check_books` proves about sales orders; see `inventory.checks`.
- `customer_orders`: Sales orders: taken, changed while nothing was sent, sent against, canceled. Their only writer.
- `designs`: Which products and lots are of a design that was never approved, for the pages that sell and send them.
- `forms`: What people type about sales orders: who wants what by when, and which lots leave for it.
- `order_progress`: How far a customer's order has got: what was sent of it, what it still needs, and whether it is
  over.
- `order_standing`: How far the shelf covers sales orders: ready to send, curing, being made, still to be poured.
- `views`: Sales orders to look at and to write: the list, one order with how far the shelf covers it, taken and
  changed.

Decisions that bind:

- What is on the shelf counts towards the order wanted first; nothing is set aside by lot.
- An order reserves all that is still to be shipped, whatever is planned for it.
- No more is shipped for an order than it wants; what is beyond leaves from the lot's own page.
- An order whose shipment is reversed after its customer was erased is canceled.
"""
