"""What lies around the shelf and the bench: orders and offers, counts, papers, tables brought in, trials, checks."""

from datetime import date, timedelta

from django.utils import timezone

from batches.burn_tests import burning
from batches.complaints import complaining
from batches.models import Batch, FormulaVersion
from batches.recalls import recalling
from costing.prices import channels
from costing.valuation.closing import close_books
from inventory.documents import services
from inventory.models import Lot, Shop
from inventory.purchasing import ordering
from inventory.shop_files import import_service
from inventory.shop_files.reading import Product
from studio.web import uploads
from tests.costing.thoughts import think
from tests.files import picture
from tests.house import NOW, Books, day, money


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
        *_wanted(books, version),
        *_complained(books, finished),
        *_sold(books, version),
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


def _wanted(books: Books, version: FormulaVersion) -> list[str]:
    """An order of a customer for which a run is planned with lots chosen by hand, and one of which some was sent."""
    product, today = version.formula.item.name, NOW.date()
    order = books.order_of("The shop at the harbour", (product, 90), on=today, reference="HS-2026/11")
    batch = books.plan(version, 20, on=today, order=order)
    wax = Lot.objects.usable(today).filter(item__kind="wax", on_hand__gt=10**9).order_by("pk")[0]
    books.choose(batch, (wax, "1 kg"))
    part = books.order_of("A feast in the great barn behind the mill", (product, 30), on=today)
    good = Lot.objects.on_shelf().filter(item=version.formula.item, awaits_release=False, grade="first")[0]
    books.send_for(part, (good, 4))
    return [order.get_absolute_url(), part.get_absolute_url(), batch.get_absolute_url(), "/batches/week/"]


def _complained(books: Books, finished: Batch) -> list[str]:
    """A grave complaint with a photo, one whose code is lost, and a drill of everything poured from one wax."""
    lot = Lot.objects.filter(outcome__batch=finished, grade="first")[0]
    words = "The jar cracked from the rim down to the foot after an hour, and hot wax ran over the table and a sleeve."
    grave = books.complain(lot, kind="injury", fire=True, what=words, reference="HS-2026/11")
    shown = uploads.receive_picture("jar.png", picture())
    complaining.add_photo(grave.pk, shown, text="From the rim down", signature=books.sign())
    complaining.change(grave.pk, signature=books.sign(), units=2)
    lost = books.complain(item=lot.item, kind="scent", what="It hardly smells of anything.")
    wax = Lot.objects.filter(item__kind="wax", movements__draw__batch=finished)[0]
    drill = books.recall(wax, drill=True, complaint=grave)
    closed = books.complain(lot, kind="look", what="A wet spot on one side.")
    complaining.change(
        closed.pk, signature=books.sign(), state="closed", outcome="replaced", cause="A cold jar"
    )
    pages = [one.get_absolute_url() for one in (grave, lost, drill, closed)]
    told = drill.parties.all()[0]
    recalling.answer(told.pk, "told", on=NOW.date(), signature=books.sign())
    party = f"{drill.get_absolute_url()}customers/{told.pk}/"
    letters, start = f"{drill.get_absolute_url()}letters/", f"/recalls/start/?lot={wax.code}"
    return [
        *pages,
        party,
        letters,
        start,
        "/complaints/common-lots/",
        f"{grave.get_absolute_url()}change/",
        f"{grave.get_absolute_url()}settle/",
    ]


def _sold(books: Books, version: FormulaVersion) -> list[str]:
    """A price asked in a channel, two scents thought of, and a shop whose columns and products are known."""
    product, signed = version.formula.item, {"by": books.by, "now": NOW}
    since = NOW.date() - timedelta(days=60)
    fees = {"percent_ppm": 29_000, "fixed_micros": money("0.31"), "shipping_micros": money("4.57")}
    name = "The web shop, with parcels"
    web = channels.open_channel(name=name, terms={"from_on": since, **fees, "units_milli": 1800}, **signed)
    channels.ask(item=product, channel=web, price_micros=money("23.95"), from_on=since, **signed)
    thought = think(books, "Quince Orchard with a warm heart of amber", version, channel=web, price="24.95")
    other = think(books, "Quince Orchard, stronger", version, load=90_000)
    shop = Shop.objects.create(
        name="The web shop",
        channel=web,
        columns={"reference": "Order", "product": "Article", "quantity": "Pieces"},
    )
    import_service.keep_products(shop.pk, {"Two quince jars in a box": Product(product.pk, 2)})
    rows = b"Order,Article,Pieces\nW-1,Two quince jars in a box,1\nW-2,Blue moon,1\n"
    # By the clock of the browser: a file that names people waits a day.
    import_service.keep(shop, "orders.csv", rows, by=books.by, now=timezone.now())
    closing = close_books(date(2024, 12, 31), signature=books.sign(reason="The year is over"))
    return [
        f"/costing/closings/{closing.pk}/",
        f"/costing/stock/items/{product.pk}/",
        f"/costing/prices/{product.pk}/?ppm=60",
        thought.get_absolute_url(),
        f"/costing/new-products/compare/?s={thought.pk}&s={other.pk}",
        f"/stock/shops/{shop.pk}/",
    ]


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
    services.withdraw(withdrawn.pk, signature=books.sign())
    of_item = f"/stock/items/{sheet.item_id}/documents/"
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
