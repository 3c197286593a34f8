"""Net weights of filled vessels: the sample, the control chart, the net-contents lot test.

Modules:

- `checking`: Fill checks: net weights of a batch's units, kept as they were weighed, and what the market's rule
  makes of them.
- `control_chart`: Control charts of fill weights, and how well the filling keeps within limits. Exact figures in,
  exact figures out.
- `forms`: What people type when fills are checked and lots are released.
- `net_contents`: Whether a lot holds what its labels declare: the lot tests of the average system (EU, UK) and of
  the US handbook.
- `plots`: Fill checks as drawings: the weights or their means in order, and their ranges, each between its control
  limits.
- `spread`: Mean and standard deviation of weights, exact as far as they can be: a root is the only thing that is
  rounded.
- `views`: Fill checks of a batch: weights entered, held against the market's rule, and plotted.

Decisions that bind:

- Weights are kept; the verdict is worked out when shown. Too few weights never pass, and fail when what was weighed
  fails.
- What the handbook says is from memory, marked so and rounded against the packer.
"""
