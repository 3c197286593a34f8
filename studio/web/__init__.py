"""What every page shares: forms, tables, plots, printed sheets, uploads, requests, panels.

Modules:

- `context`: What the frame of every page shows.
- `errors`: Pages for what went wrong: every one a sentence and a way on.
- `filters`: What a list is asked to show, read from the address in one place: choices, words searched for, whole
  numbers.
- `forms`: Form fields that turn what people type into exact figures, each refusal a sentence beside the field.
- `letter`: A sheet to somebody outside the studio: who sends it and to whom, the facts at its right, and whose it
  is on later pages.
- `line_forms`: Forms with repeated lines: a press for one more line, without complaints while the person is still
  typing.
- `middleware`: What every request needs to know: whose studio this is, and what time it is there.
- `panels`: Places on a page where a package further up the house adds a part.
- `pdf`: What every printed sheet shares: fonts, safe text, barcodes, ruled pieces and page numbers.
- `plots`: The numbers behind a plotted line: round figures for its axes, days along it, and places in the drawing.
- `reading_tables`: A file somebody made by hand, CSV or XLSX, as rows of text with their place in the file. Knows
  no table.
- `reading_xlsx`: The rows of a spreadsheet file, as text, without trusting anything it claims.
- `requests`: What a view takes from a request: who signs, and how often. The only readers of the clock are views.
- `static_files`: How scripts and styles are handed out: under names that carry a digest of what is in them, so that
  none goes stale.
- `submissions`: One press, one posting: a form is accepted once, however often it is sent.
- `tables`: A table is declared once, column by column; pages, phones, CSV and XLSX show what was declared.
- `uploads`: Files that people bring in, judged by what is in them: PDF, JPEG, PNG or WebP, and nothing else.

Decisions that bind:

- A form is accepted once; sent twice it is answered with the first result.
- A form that changes a row carries what it showed, writes only changed columns, and asks once before it replaces a
  colleague's change.
- Lines of a sent form count whether they were typed or shown filled in.
- Uploads are judged by content. Photos are written anew; PDFs stay as they came and are only ever downloaded.
- Up to three times the upload limit is read, so that the form can say what was wrong; more is turned away unread.
- Panels return data for the page to draw; which ones a page shows stands in `studio/wiring.py`.
"""
