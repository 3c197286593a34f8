"""Batch ticket, completed batch record and the labels of finished candles.

Modules:

- `corrections`: Every correction of a batch: what stood there, what stands there now, who put it right, when and
  why.
- `forms`: What people choose before the labels of finished candles are printed.
- `jar_label_pdf`: How the label of a finished candle is laid out in the room it has, and its warning label.
- `jar_label_text`: From a lot of finished goods to the texts of its labels.
- `lacking`: What the record of a batch lacks of what a batch record usually holds, in plain words.
- `net_label`: The net weight a label states, in both unit systems, rounded so that neither says more than is
  declared.
- `record_facts`: All that is on record of one batch, read once: for the printed batch record and for what the batch
  page says of it.
- `record_panel`: The part of the batch page that says what its record comes to: off the formula, corrected, and
  lacking.
- `record_pdf`: The printed batch record: everything that is on record of one batch, with every correction in sight.
- `record_text`: From a batch and all that is on record of it to the texts of its printed batch record.
- `record_text_end`: The parts of the batch record that say what came of the batch: yield, checks, labels, release,
  where it went.
- `record_text_process`: The parts of the batch record that say how the batch was made: steps and temperatures,
  notes, time worked.
- `ticket_lines`: The table of materials or of components on the printed batch ticket.
- `ticket_pdf`: The printed batch ticket: the sheet that lies beside the melting pot and is written on with a pen.
- `ticket_text`: From a batch to the texts of its printed ticket.
- `views_jar_labels`: Labels for finished candles: product, net weight, batch and lot, who made it, and the warning.
- `views_record`: The printed batch record of a batch that was begun.
- `views_ticket`: The printed batch ticket.

Decisions that bind:

- Both net weights on a label are rounded down; the e-mark is never printed. A label is refused rather than cut.
- No label without a warning whose words the owner confirmed for the market; each wording is a new row.
- A label's barcode holds the batch code and no address.
- What the program does not keep (equipment, cleaning) is a blank on the record and named as lacking.
- A correction's new value is what the same person posted for the same line at the instant of the reversal.
- The ticket has boxes of 10 mm and lots and weights at 12 pt.
"""
