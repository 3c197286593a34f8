"""Goods that leave: picking, scanning, shipments, packing slips, returns.

Modules:

- `checks`: What `manage.py check_books` proves about goods that left and came back; see `inventory.checks`.
- `dispatching`: Goods leave to somebody by lot, and come back: each return a lot of its own, on hold, worth what it
  left with.
- `for_order`: Goods leave for a sales order: no more of any than it still wants, and the order's state follows.
- `forms`: What people type when goods leave and when they come back.
- `packing_slip_pdf`: The packing slip on paper: what is in a parcel, with the codes of its lots, which a complaint
  is answered by.
- `packing_slip_text`: From a shipment to the texts of its packing slip.
- `picking`: Which lots to take for what is to be sent: what is in somebody's hands already, and for the rest the
  fewest lots.
- `reversals`: What follows in sales when a shipment is reversed; see `inventory.ledger.reversals`.
- `scanning`: Codes as a hand scanner types them, one to a line: which lots they mean, and how many pieces were held
  before it.
- `tables`: What left and what came back, as tables: on pages, and in files line by line.
- `views`: What left to whom, and what came back: the list, one shipment with its packing slip, and returns.
- `views_for_order`: Goods leave for a customer's order: the lots suggested, and what really left.
- `views_sending`: Sending out: what is wanted or scanned first, then the lots picked for it, then the press that
  books it.

Decisions that bind:

- A return is a lot of its own, on hold, worth its share of what left; the last return takes the rest. A late cost
  does not reach it.
- A shipment of which something came back is reversed after that return.
- Customer, reason, channel and order may be corrected, each change kept; lots and quantities never.
- A scanned batch code means the picked lot of the batch, then first quality, the oldest. Scanned must equal picked
  exactly.
"""
