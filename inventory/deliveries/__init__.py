"""What arrives, with its share of freight and duty, also when those are billed later.

Modules:

- `forms`: What people type when goods arrive: the head of a delivery and its lines, in the units on the invoice.
- `forms_late_costs`: What people type about costs billed after a delivery, and about the span of days of a report.
- `late_costs`: Freight or duty billed after its delivery: the cost follows the goods to where they are by now.
- `receiving`: Goods arrive: a delivery becomes lots on the shelf, freight shared over them to the last millionth.
- `reversals`: What follows in purchasing when a delivery is reversed; see `inventory.ledger.reversals`.
- `views`: Deliveries: entered on one screen, in the units on the invoice.
- `views_late_costs`: Costs that come after the goods: freight or duty billed later, and what of it no stock is left
  to carry.

Decisions that bind:

- A late cost follows quantity through decantings to any depth and stops at batches: what they made keeps its cost,
  and the page names its share.
- A late cost is reversed only while nothing has left the lots it touched.
"""
