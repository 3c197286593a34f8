"""Suppliers' offers and purchase orders, from draft to the last parcel.

Modules:

- `checks`: What `manage.py check_books` proves about offers and orders; see `inventory.checks`.
- `forms_offers`: What people type when a supplier quotes: the pack, its prices by quantity, and how long the offer
  stands.
- `forms_orders`: What people type when they order: the draft and its lines, when it was sent, and goods arriving
  against it.
- `forms_packs`: Packs typed into a line: "4 cases", with a field for what is in one that is shown once it is asked.
- `forms_suppliers`: What people type about a supplier.
- `lead_time`: How long deliveries take: from real ones, else as stated, and which of the two was taken.
- `lead_times`: How long deliveries took, read from the books for every item and supplier: one place for whoever
  asks by when to order.
- `offer_rows`: Offers as tables show them: where each stands on a day, and how old it is.
- `offers`: What suppliers ask: offers entered and withdrawn, the price at a quantity, and how long delivery takes.
- `ordering`: Purchase orders: drafted, sent, received in parts, closed or canceled.
- `pack_contents`: What is in one case, roll or ream: asked once, and remembered for that supplier's item.
- `purchase_order_pdf`: A purchase order on paper: the sheet that goes to the supplier.
- `purchase_order_text`: From an order to the texts of its printed sheet.
- `views_offers`: Suppliers' offers, and what an item cost over time.
- `views_ordering`: Purchase orders written, changed while they are drafts, sent, closed, canceled and opened again.
- `views_orders`: Purchase orders to look at: the list, one order with what came of it, and the printed sheet.
- `views_suppliers`: Suppliers: who sells to the studio, what each asks and what was ordered of it.

Decisions that bind:

- Nothing on a sent purchase order changes; the database refuses it. It is what the supplier was told.
- An order that came whole closes by itself with its delivery or reversal; one closed by hand is opened by hand.
- A draft's line keeps the quote its price came from; an empty price is asked of the quotes at each save.
- Orders are received in base units, not packs.
- One rule of lead times serves purchase list, expected day and shortages: measured from three deliveries on (of the
  item, then of the supplier), below that the stated one first. A batch's last day to order allows for a slow
  delivery, by the service level.
"""
