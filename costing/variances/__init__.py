"""Why a run cost more or less than it should: price, usage, yield, labor, overhead.

Modules:

- `batch_variances`: A run's variances from the books: what it took beside what its standard says for what it made.
- `forms`: Which days, and at which standard prices.
- `variance_text`: What each part of a run's difference comes from, in a sentence.
- `variances`: Why a run cost other than it should have: price, usage, yield, labour rate and time, overhead.
- `views`: Why runs cost other than they should have: one run, and all that were finished in some days.

Decisions that bind:

- A batch is held against prices, rates and standard of the day it was planned for. Yield is what came out beyond
  the expected loss; melt not poured is usage.
- Blends stand beside the sums of a period: their cost is within the batches that used them.
"""
