"""A new scent priced before its first pour.

Modules:

- `figures`: What a scent that is only thought of would cost: at the first run, once it is steady, at every pack;
  and when it pays.
- `forms`: What people type about a scent that is only thought of.
- `imagined`: A scenario as the formula version it would be: another scent, load, fill and parts, and nothing of it
  kept.
- `keeping`: Scents that are only thought of: kept, put away, and turned into a formula at trial.
- `reading`: What scenarios are worked out from: today's prices, offers, rates and shelf, read once for any number
  of them.
- `views`: New scents: thought of, worked out, compared, and turned into a formula at trial.

Decisions that bind:

- A scenario is never changed; another is made from it. It is costed as the unsaved formula version it would be.
- A first batch bears the fragrance it takes, the cash the whole pack. Label words of another scent are not taken
  over.
"""
