"""What a cost is made of: cost categories, job costing, the cost of one unit; plain arithmetic for all of costing.

Modules:

- `heads`: The heads under which a cost is told, their names, and which item falls under which.
- `job_cost`: What a batch cost, by head: materials drawn, labor minutes and overhead, over the good units.
- `missing`: A figure that is not there: named, with what it keeps from being known and where it is entered.
- `stacked_bars`: Stacked bars for the eye: widths in whole thousandths of the bar, so that a template only draws.
- `unit_cost`: What one unit costs, as the arithmetic of prices wants it.

Decisions that bind:

- Spoilage is taken out of every cost category by its share; the total stays the same.
"""
