"""Rates of labor and overhead, each with the day from which it holds.

Modules:

- `forms`: What people type about rates.
- `rates`: Which rate held on a day. Rates are dated and never rewritten; the latest set for a day counts.
- `views`: What labor and overhead cost, from which day, and what overhead really came to.
- `work_standards`: Setting how long a product should take and how much of it is lost, from a day on.

Decisions that bind:

- A rate or standard from a past day is refused where it would change what was worked, finished or planned before;
  the first may reach back.
- Overhead rules are told apart by name; one at nothing ends. Normal capacity is kept with what it was worked out
  from (IAS 2).
"""
