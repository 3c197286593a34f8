"""The roof: Today, search, the studio's settings and its people, everything exported at once. Nothing imports it.

Modules:

- `data_export`: Everything the studio keeps, in formats any program reads, as one ZIP, for whoever wants to leave.
- `search`: One box for everything: a code leads straight to its page, a name or a supplier's lot to a short list.
- `today`: The Today page: what needs a hand now, each one press from being done, then the week in small charts.
- `views`: The first visit, signing in, the studio's settings and its people.
- `week_charts`: The week in small charts, for the Today page: what was poured, what was shipped, which batches came
  to an end.

Decisions that bind:

- The ZIP of everything leaves out shops' files: they name people and are nobody's record.
- Today names books to close only to the owner, only where they were closed before.
"""
