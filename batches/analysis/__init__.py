"""What the record teaches: defects and yield against how and from what was poured.

Modules:

- `factors`: What a batch is to those who learn from it, what can be looked at of it, and what may have mattered.
- `findings`: What the batches show: whether what came out differs with temperature, lot, fragrance, vessel or
  person.
- `forms`: What is asked of the batches: which formula, which days, which outcome.
- `plots`: What the batches show as drawings: a point for each batch, a strip for each level.
- `reading`: Reads the batches that are to be learned from, in as many queries for one as for forty thousand.
- `views`: What the batches show: defects and yield against temperatures, lots, fragrance, vessel and person.

Decisions that bind:

- Batches are compared, never units, within their formula; fragrances within a vessel, vessels within a fragrance.
  Chance is shuffling.
- All factors on a page are corrected together (Holm). Shares have Wilson intervals over the design effect.
- Of several lots or people in a batch the one that gave most counts.
- scipy and networkx are dependencies of tests alone.
"""
