"""What a product should cost and what its last batches cost, by cost category.

Modules:

- `actuals`: What the last batches of a product really cost, taken together, beside its standard.
- `cost_sheet`: What a batch should cost, by head: lines at their prices, minutes at their rates, overhead by its
  rules, what is lost.
- `forms`: What people ask of a cost sheet, and what they set as its standard.
- `past_runs`: What finished batches of a formula took and gave: what the standard goes by where nobody set one.
- `price_basis`: What a base unit of an item costs by a chosen basis, on any day: read once, looked up as often as a
  page likes.
- `product_costs`: What one unit of each product costs at the standard, for a batch as it is usually made: what
  prices are worked out from.
- `product_panel`: From the page of a product or a formula to what it costs and what is charged for it, for people
  who may see costs.
- `sheet_page`: What a cost sheet's page shows: heads side by side, each line with its price, and what the export
  holds.
- `standard`: What a product should cost: its formula at a chosen price basis, the work it should take, and what is
  usually lost.
- `unit_cost_of`: From a cost sheet to what one good unit costs, as the arithmetic of prices wants it.
- `views`: What products should cost beside what they did, one by one and all in a list; and setting what they
  should take.

Decisions that bind:

- A standard is never kept: a blend's is its current version made as its last batch was, at the same basis.
- Weighed lines are exact to the microgram; counted lines whole. A quote is chosen by the least money for the need
  in whole packs.
- Pots of a batch are those its plan needs.
"""
