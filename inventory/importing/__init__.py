"""Importing tables people kept before: what their columns mean, what is wrong in them, and what becomes of them.

`columns` says what a table holds, `cells` reads one cell, `planning` turns a file into a plan, each table's own module
(`names`, `offers`, `lots`, `movements`) understands its rows and carries them out, `import_service`
stores a file and carries it out.

Modules:

- `cells`: One cell after the other, understood or named with what is wrong in it; all problems of a file are
  collected.
- `checks`: What `manage.py check_books` proves about tables that were imported.
- `columns`: Columns and their headings: which of a file's headings means which column, and what unit it names.
- `days`: Days as people write them in tables: 2026-03-03, 3 Mar 2026, 03/04/2026. Plain Python.
- `findings`: What a table's rows turn out to be: new, known already, known with other values. Shared by all tables.
- `forms`: The file a table comes in, and how it is to be understood where it could be read two ways.
- `import_service`: Bringing a table in: kept while it is looked at, then carried out whole or not at all.
- `lots`: Opening lots: what stood on the shelf before these books.
- `marks`: Commas, points and words around a figure: what can be read two ways, and what was probably meant. Plain
  Python.
- `movements`: Past movements: what was used, sold or thrown away of lots before these books.
- `names`: Suppliers and items: known by name, capitals or not. One that is there stays as it is.
- `offers`: Offers: rows of one supplier, item, pack and day are one offer with its prices from so many packs.
- `planning`: A file turned into a plan: what is new in it, what is known, what is wrong. Reads the books, writes
  nothing.
- `shapes`: What each table that may be imported holds, column by column. The examples are invented, and say so.
- `tables`: Files imported, what is wrong in one, and the lots that came of it, as tables.
- `views`: Importing tables: choose a file, look at what is in it, bring it in, and look up what was.

Decisions that bind:

- A row is known again by a digest of what was understood of it and of how many alike stand before it.
- What was shown is what comes in: the page sends back a digest of the plan, worked out anew under the lock.
- A comma before three figures, and 03/04/2026, are asked about once for the file.
- Opening lots stand at 08:00 and use at 12:00 of their day, or when the lot arrived. Past movements: one posting a
  day and note, of at most 500 lines.
"""
