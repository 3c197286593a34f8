"""Why a batch cost more or less than it should: price, usage, yield, labor, overhead.

Modules:

- `batch_variances`: A batch's variances from the books: what it took beside what its standard says for what it
  made.
- `forms`: Which days, and at which standard prices.
- `variance_text`: What each part of a batch's difference comes from, in a sentence.
- `variances`: Why a batch cost other than it should have: price, usage, yield, labor rate and time, overhead.
- `views`: Why batches cost other than they should have: one batch, and all that were finished in some days.

Decisions that bind:

- A batch is held against prices, rates and standard of the day it was planned for. Yield is what came out beyond
  the expected loss; melt not poured is usage.
- Blends stand beside the sums of a period: their cost is within the batches that used them.
"""
