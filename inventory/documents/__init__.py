"""Safety data sheets, certificates and photos kept beside items and lots.

Modules:

- `checks`: What `manage.py check_books` proves about documents: every file is the one that was added, and every
  mark has its record.
- `forms`: What people say of a paper, and the file they choose.
- `queries`: Questions about documents: which items lack a safety data sheet and why, and what lies beside an item
  or a lot.
- `services`: Papers and photos are added, withdrawn, put back and erased; each with a name and a time that stay on
  record.
- `views`: Papers and photos of items and lots: added, listed, handed out, withdrawn and erased.

Decisions that bind:

- Documents lie in the database beside the ledger: one backup holds both.
- The same file may lie beside an item and its lots, once each: one certificate often covers several lots.
"""
