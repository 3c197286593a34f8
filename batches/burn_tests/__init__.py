"""Recorded trials of wick, vessel, wax and fragrance: plan, readings, pass or fail.

Modules:

- `burn`: The arithmetic of a burn test: what burned, how fast, how long a candle should last, what went beyond the
  limits.
- `burning`: Burn tests: started, read cycle by cycle, voided where a slip was made, and decided by a person.
- `forms`: What people type about burn tests, turned into exact figures or a sentence beside the field.
- `record`: A burn test as it stands: its readings by cycle, what each jar burned, and what the limits say.
- `sources`: Where the limits a studio begins with come from, one sentence each; a figure the studio changed is its
  own.
- `tables`: Readings of burn tests as a file: one line for each reading that stands, or for each test that has none
  yet.
- `verdict`: What a burn test says of the design it tested: whether it speaks for it, what it lacks, and on whose
  word it passed.
- `views`: Burn tests: listed, started, read cycle by cycle, and decided; and the limits they are held against.

Decisions that bind:

- A burn rate is worked out between weighings that follow each other; past a missing cycle it begins again.
- What nobody observed is empty; a cycle with a limited reading missing for any jar is not judged.
- A test runs to the studio's end (12 mm of wax at first). Less than half the melt burned at the end is no pass
  (common practice).
- A decided test is never opened again; a wrong decision is answered by a new test.
"""
