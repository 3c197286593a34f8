"""What to pour and when: where a plan begins, the lots it suggests, the week, what orders still want.

Modules:

- `fill_each`: The pourer's one number: what each vessel is filled to, and what a melt of another weight than
  planned fills.
- `for_orders`: Runs planned for sales orders: what they will still bring, told to the stock pages.
- `forms`: What people type when they plan: where to begin, how many, when, and which lots in place of the
  suggestion.
- `lot_allocation`: Lots that somebody chose for a batch in place of the suggestion: kept, and held against what the
  shelf can give.
- `plan_composition`: What is in the melt that a plan takes: of the lots it took already, those chosen, and those
  suggested for the rest.
- `planning`: What a batch needs, what is on the shelf for it, and which lots to take.
- `plans`: A batch before it is in the pot: planned, planned again, its lots chosen, canceled; what it needs is told
  to stock.
- `pours`: How a batch is split into pours, in words.
- `sales_order_demand`: What sales orders will take of materials although no run is planned for them yet, told to
  the buying pages.
- `starting`: Where a plan begins: an order's line, a lot to use up, or all that the shelf allows. Gives how many,
  and in words why.
- `views`: Planning: where to begin, what a batch needs, what is short, which lots; a planned run moved or given
  other lots.
- `views_week`: The week's plan: on the page, on paper, and as a table.
- `week`: A week on one page: batches, orders due and deliveries by day, and the shelf projected after each batch.
- `week_projection`: The shelf ahead: what is there now, and what is left of it after each batch and each delivery,
  in the order of days.

Decisions that bind:

- Pours are as equal as whole vessels allow.
- Lots chosen by hand are a plan: what was drawn counts, and a lot that cannot give it is named and replaced by the
  suggestion.
- The week is projected from what is usable today over every open batch; late batches count today, late deliveries
  on no day.
- The same batch planned twice within ten minutes by one person is asked about once.
- Orders still to be poured want their materials on the day of pouring; batches planned for the shelf are taken off
  first.
"""
