"""What products earn by unit, by kilogram and by hands-on hour; which inputs matter most.

Modules:

- `bar_plots`: Bars lying on their side: what an hour brings, and how far an input moves the margin. Places in whole
  units.
- `earnings`: What every product earns in every channel: for a piece, a kilogram of melt and an hour of hands,
  ranked.
- `sensitivity`: Which inputs move the margin most, and what fragrance at a price and a load would leave.
- `views`: What every product earns for an hour of hands, and which inputs move its margin.

Decisions that bind:

- Contribution is price without tax less fees and material; margin is after labor and overhead too.
"""
