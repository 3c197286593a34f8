"""Calling back a lot: who has it, letters, how far it has come, how wide it would be.

Modules:

- `checks`: What `manage.py check_books` proves about complaints and recalls; see `inventory.checks`.
- `facts`: What a recall of some lots reaches, read from the books at a moment: lots with their balances, batches,
  who has what.
- `forms`: What people type about recalls, turned into facts or a sentence beside the field.
- `letters`: What a customer is told when goods are called back: a letter and a short message, to copy.
- `letters_text`: From a recall as it stands to the letter and the message for one customer.
- `progress`: How far a recall has got: who was told and answered, what is accounted for, and whether the quantities
  add up.
- `recalling`: Recalls and drills: begun with a look that is frozen, added to, answered customer by customer, and
  closed.
- `report_pdf`: The closing report of a recall or a drill on paper: a `RecallReport` of finished texts in, PDF bytes
  out.
- `report_text`: From a recall to the texts of its closing report, and to the rows of its tables as files.
- `tables`: Recalls, and how wide a recall of each lot would be, as tables.
- `views`: Recalls and drills: begun, looked at, answered customer by customer, closed and reported; and how wide
  one would be.

Decisions that bind:

- A recall freezes where lots stood and who had what; names stay with the customer alone.
- What comes back during a recall is entered with the customer; the snapshot stays.
- Closing a recall releases nothing. Batches under way are named, not held.
"""
