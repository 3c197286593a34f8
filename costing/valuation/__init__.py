"""Stock value at any day and the cost of goods of any period.

Modules:

- `carried`: Labor, overhead and abnormal loss in goods: what each batch added, and how much of it is still here.
- `charged`: Overhead charged to batches, month by month: the one figure beside what overhead really came to.
- `closing`: Closing the books with their report: the figures as they were are kept beside the closing, to come out
  the same later.
- `compared`: First in first out and averages beside the lots of the books, item by item over a period: figures to
  compare by.
- `cost_of_goods`: What goods cost in a period: what was there, what came and was added, less what is left; and
  where it went.
- `cost_of_goods_pdf`: Stock and cost of goods on paper, for the accountant.
- `cost_of_goods_text`: The accountant's report as finished texts.
- `facts`: What is known of batches and lots at an instant: what `costing.valuation.carried` works with, in few
  queries.
- `forms`: What people ask and say about the value of goods.
- `goods`: What goods were worth at an instant: by class and by item as the books carry them, and what is added to
  them.
- `ledger_as_of`: The books as they stood at an instant: by what had happened, and, for an audit, by what was known
  of it by then.
- `methods`: Other ways to say what left and what is left, beside specific lots: first in first out, and averages.
- `statement`: The cost of goods as lines of figures: the same for the page, the file and the paper.
- `tables`: What goods were worth, how the books were closed and by which rules, as tables.
- `views`: What goods are worth and what they cost, for the owner and the accountant; and closing the books.

Decisions that bind:

- Stock value works back from lots' balances; as recorded, forward from movements.
- One rule of what counts holds for a whole report, that of its last day: employees' labor and overhead, not the
  owner's, 5 % normal loss (common practice).
- Abnormal loss leaves goods in the report when its batch ends; the ledger keeps it in the lots (IAS 2).
- Other methods start from the lots there at the beginning of the period.
"""
