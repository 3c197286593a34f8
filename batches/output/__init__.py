"""What a batch gave, beside what was planned and what was drawn.

Modules:

- `yields`: What came out of a batch beside what was planned and what the draws would have given, and in which
  parts.

Decisions that bind:

- Yield is good and seconds over what the melt drawn would fill (21 CFR 210.3(b)(17)-(19)).
- A defect keeps its words on the yield; a better word is a new defect. Seconds stay one lot.
"""
