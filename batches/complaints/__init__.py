"""What customers report, which jar it may have been, and the lots that complaints share.

Modules:

- `candidates`: Which lots a complaint may be about when the code on the jar is lost: narrowed by what is known,
  ranked, with reasons.
- `common_lot`: Which lots a set of complaints shares more than their share of all that was shipped would explain.
- `common_lot_of`: What the books say of a set of complaints: which lots are in their candles, and how many units
  sent carry each.
- `complaining`: Complaints: recorded, changed, answered, closed and, where a name may no longer be kept, erased.
- `departure`: Whether a candle that is complained of can have left the studio by the day it was bought, as the
  books have it.
- `forms`: What people type about complaints, turned into facts or a sentence beside the field.
- `panels`: What other pages say of complaints: the page of a customer, and a trace; for owner and makers.
- `patterns`: What comes back again and again: complaints by product and by lot, for every thousand that were sent.
- `pointing`: Which of a candle's lots a complaint points to first, by what it is about. Plain Python.
- `reporting`: Whose law may want a dangerous candle or an accident reported, and where it says so: a reminder,
  never advice.
- `units_had`: How many units customers had: what complaints are counted for and held against.
- `views`: Complaints: listed, recorded, looked into, answered and closed; what they share; what comes back.

Decisions that bind:

- A complaint counts once in the common-lot test, corrected for every lot in what was sent. Lots in the same candles
  share a line.
- Where an order or a customer fits, only those lots are offered for a lost code.
- With a customer who is erased the words and photos of their complaints go.
- A complaint's history keeps no words that may name a person.
- Complaints are held against all shipped, returns included unless released for sale again.
- The caution about reporting prefers false alarms and names no last day.
"""
