"""Quantities, money, numbers, codes and days: plain Python without a database or a clock.

Modules:

- `codes`: Codes for shelf lots and batches: short, said aloud without doubt, and caught when mistyped.
- `days`: Where a day begins and ends on the studio's clock.
- `durations`: How long something took, in words.
- `label_warnings`: What the warning on a candle says in each market, in this studio's own sentences, and the
  standard it answers to.
- `money`: Money: integers in millionths of the currency unit ("micros"), read from and written for people.
- `numerals`: Reading a decimal number from what a person typed, and writing one for a person to read.
- `percent`: Percentages as whole parts per million: 8.25 % is 82,500.
- `quantities`: Amounts of stock: integers in base units, read from and written for people.
- `spreadsheet_text`: Text that leaves in a table and that no spreadsheet takes for a formula, in every file of the
  studio's alike.
- `temperatures`: Temperatures: integers in thousandths of a degree Celsius, read and written in °C or °F.

Decisions that bind:

- Code numbers whose check character would be I or O, or which a swap of neighbors leaves valid, are never given
  out: O and I can then be read as 0 and 1.
- A dozen and a gross multiply. A case, box, roll, ream or pack asks what one holds.
- Label warnings are our own sentences, each naming the standard it answers to; the standards' text is not free.
- Text that looks like a formula carries one apostrophe more in files, by a rule that can be undone.
"""
