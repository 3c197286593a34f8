"""What lies around the shelf and the bench: orders and offers, counts, papers, tables brought in, trials, checks."""

from datetime import timedelta

from batches import burning
from batches.models import Batch, FormulaVersion
from inventory import documents, ordering
from inventory.models import Lot
from tests.files import picture
from tests.house import NOW, Books, day


def around(books: Books, version: FormulaVersion, finished: Batch, names: tuple[str, ...]) -> list[str]:
    """Something of everything; gives back the addresses of pages that are unlike others of their kind.

    `names`: of a wax, a scent and a label that exist.
    """
    return [
        *_buying(books, *names),
        *_counted(books, names[2]),
        *_papers(books, names[1]),
        *_tables(books),
        *_trials(books, version),
        *_checked(books, version, finished),
        f"/formulas/{version.formula_id}/fill-weight/",
    ]


def _buying(books: Books, wax: str, scent: str, label: str) -> list[str]:
    books.offer(scent, "2.5 kg", (1, "132.00"), (4, "121.50"), lead_days=9, supplier_code="QO-25")
    draft = books.order((scent, 2, "2.5 kg"), (label, 1, 1_000))
    sent = books.order((wax, 1, "25 kg", "137.25"), sent=day(12), expected=NOW.date() + timedelta(days=4))
    part = books.order((label, 3, 100, "2.93"), sent=day(16))
    books.bring(part, (0, 200), cost="5.86")
    closed = books.order((label, 3, 100, "2.93"), sent=day(16))
    books.bring(closed, (0, 200), cost="5.86")
    ordering.close(closed.pk, signature=books.sign(reason="The supplier no longer makes the rest"))
    return [order.get_absolute_url() for order in (draft, sent, part, closed)]


def _counted(books: Books, label: str) -> list[str]:
    books.item("Gift box with a lid that folds", kind="packaging")
    boxes = books.receive("Gift box with a lid that folds", 30, cost="6.39")
    done = books.start_count("item", boxes.item.name, items=[boxes.item.name])
    books.look(done, (boxes, 29), at=day(18))
    books.post_count(done)
    blind = books.start_count("item", label, items=[label], blind=True)
    books.look(blind, (Lot.objects.filter(item__name=label).order_by("pk")[0], 3))
    return [done.get_absolute_url(), blind.get_absolute_url()]


def _papers(books: Books, scent: str) -> list[str]:
    sheet = books.paper(scent, note="Section 9 is on the sixth page, below the table of first-aid measures")
    photo = books.paper(scent, "photo", picture(), note="The pail as it came")
    withdrawn = books.paper(scent, "ifra")
    documents.withdraw(withdrawn.pk, signature=books.sign())
    of_item = f"/stock/items/{sheet.item_id}/papers/"
    return [of_item, *(paper.get_absolute_url() for paper in (sheet, photo, withdrawn))]


def _tables(books: Books) -> list[str]:
    books.item("Old box", kind="packaging")
    head = "Item,Quantity,Cost,Arrived,Lot\n"
    books.bring_in("lots", f"{head}old box,10,1.30,2026-03-01,OB-7\n")
    books.keep_table("lots", f"{head}old box,5,0.70,2026-03-02,\nold bocks,5,0.70,03/04/2026,\n")
    return []


def _trials(books: Books, version: FormulaVersion) -> list[str]:
    burned = books.burn(version, at=day(4))
    burning_now = books.light(version, "351 g", "352 g", at=day(18), plan="A larger wick")
    slip, _ = books.read(
        burning_now, 1, {"weight": "331 g", "soot": "slight"}, {"weight": "330 g"}, at=day(19)
    )
    burning.strike(slip.pk, signature=books.sign(day(19), "Read from the wrong jar"))
    return [burned.get_absolute_url(), burning_now.get_absolute_url()]


def _checked(books: Books, version: FormulaVersion, finished: Batch) -> list[str]:
    """A fill check that fails by a little, and candles that wait to be looked at."""
    nets = ["221.4", "220.2", "218.9", "222.0", "219.6", "220.8", "221.1", "219.9", "220.3", "218.2"]
    check = books.check_fill(finished, nets, declared="220 g", lot_size=47)
    batch = books.plan(version, 4)
    (waiting,) = books.finish(batch, good=3, at=day(3), without=True, release=False, last=False)
    return [check.get_absolute_url(), batch.get_absolute_url(), waiting.get_absolute_url()]
