"""Labels for lots: what they say, how they look, on which sheets or rolls.

Modules:

- `face`: How one printed lot label is laid out in the room it has.
- `forms`: What people type to print labels, and to say where labels lie on their paper.
- `sheets`: Printed labels for lots: on sheets of rows and columns, or on a roll where a page is a label.
- `texts`: From a lot to the texts of its printed label.
- `views`: Printing labels for lots, and the layouts they are printed on.

Decisions that bind:

- A label drops the QR code, then the barcode, before words: a symbol too fine to scan is worse than none. 4.2 mm
  along a sheet's edge stays white.
"""
