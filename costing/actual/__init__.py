"""What a batch really cost: material, labor, overhead, and what blends pass on.

Modules:

- `batch_cost`: What a batch really cost: the lots it drew, the minutes worked at their dated rates, overhead by its
  rules.
- `batch_panel`: The part of a batch's page that tells what it cost, for people who may see costs.
- `blends`: Where the labor and overhead in a batch's blends come from: read level by level, a few queries for each
  level.
- `passing`: Labor and overhead along lots: what a batch added lies in what it made, and goes along with what leaves
  it.
- `views`: What batches cost.

Decisions that bind:

- Labor and overhead of a blend go along by quantity, rounded on the running total of what left its lot; a lot
  filled twice passes on its average.
"""
