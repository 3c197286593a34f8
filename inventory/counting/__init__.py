"""Counting the shelf: classes and due days, the sheet, its differences, the posting.

Modules:

- `count_sheet`: The printed count sheet: taken along the shelf on a board and written on with a pen.
- `count_sheet_text`: From a count to the texts of its printed sheet.
- `counting`: Counting the shelf: a sheet is started, lots are looked at one by one, and what differs is posted as
  one event.
- `figures`: What counts say: each line against the books, which class an item falls into, and what is due for
  counting.
- `forms`: What people type when the shelf is counted: what to count, what was found, and why it differs.
- `rules`: How often an item is counted and how far a count may be off: classes by yearly value, due days,
  tolerances.
- `views`: Counts: what is due, a count from its sheet to the books, and what earlier ones found.
- `views_counting`: At the shelf: what was found is written down, lot by lot or many at once, then explained and
  posted.

Decisions that bind:

- The book figure of a count is what the lot held when it was counted, worked out anew each time; once posted, its
  movements say what was found.
- A lot is on one open count at a time, and a count of it lies after the last that adjusted it.
- The tolerance a lot was counted under stays on its line.
- An item is due by its latest count, or earlier where one of its lots was passed over.
- A count taken before a closing and posted after it is dated at the first moment after.
"""
