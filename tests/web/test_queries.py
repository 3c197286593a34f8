"""Twice the rows, the same number of queries: no page grows slower with every lot it lists."""

from datetime import date
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches import formulas, runs
from costing import rates
from inventory import deliveries, holding, moving
from inventory.models import Lot, Supplier
from studio.models import Role, User
from tests.house import ARRIVED, NOW, day, grams, money
from tests.web.conftest import enter
from tests.web.pages import readable, tables


def more(house: SimpleNamespace) -> None:
    """At least twice as many rows of everything, on the pages of the very things `readable` shows."""
    books, people = house.books, house.people
    _more_shelf(house)
    _more_names(house)
    for number in range(3):
        User.objects.create(username=f"guest{number}", first_name="Guest", role=Role.MAKER, password="!")
        rates.set_labour_rate(
            from_on=date(2026, 2, 1 + number),
            person=people.maker,
            per_hour=money(25),
            by=people.owner,
            now=NOW,
        )
        rates.set_overhead_rate(
            from_on=date(2026, 2, 1 + number), basis="per_batch", amount=money(8), by=people.owner, now=NOW
        )
    _more_in_runs(house)
    _more_runs(house)
    for _ in range(3):
        books.send(house.cured, 1)
        books.draw(house.shelf["wax"], "1 g")
        seen = books.receive("additive", "3 g", cost=1)
        books.draw(seen, "4 g", found=True)


def _more_shelf(house: SimpleNamespace) -> None:
    """Deliveries of many lines, lots on hold, expired and about to; holds and changes of one lot."""
    books, wax = house.books, house.shelf["wax"]
    for _ in range(2):
        books.deliver(
            *[
                books.arrival(name, "300 g", "3.10")
                for name in ("wax", "fragrance", "dye", "Rain on Slate oil")
            ]
        )
        for name in ("wick", "vessel"):
            books.receive(name, 30, cost=3)
        held = books.receive("fragrance", "20 g", cost=1)
        holding.hold(held.pk, signature=books.sign(reason="Cloudy"))
        books.receive("wax", "30 g", cost=1, expires_on=date(2026, 3, 11))
        books.receive("dye", "5 g", cost=1, expires_on=date(2026, 4, 2))
    for lot in (wax, house.cured, house.held, house.jar, house.blended):
        for number in range(3):
            for act in (
                (holding.release, holding.hold) if lot == house.held else (holding.hold, holding.release)
            ):
                act(lot.pk, signature=books.sign(reason="Looked again"))
            holding.relabel(
                lot.pk, place=f"Shelf {number}", expires_on=None, supplier_lot="TW-88", signature=books.sign()
            )


def _more_names(house: SimpleNamespace) -> None:
    """Items, suppliers, papers and formulas whose names hold "wax", so that searching finds more."""
    books = house.books
    for number in range(4):
        books.item(f"Moor wax {number}")
        books.formula(f"Moor wax candle {number}", [("wax", "wax_share", 1_000_000)], fill="100 g")
        supplier = Supplier.objects.create(name=f"Moor Wax {number}")
        deliveries.receive(
            supplier=supplier,
            reference=f"WAX-{number}",
            arrivals=[books.arrival("wax", "10 g", 1, supplier_lot=f"wax-{number}")],
            freight=0,
            spread="value",
            signature=books.sign(ARRIVED),
        )
        lines = [formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)]
        fields = {"fill_ug": grams(100), "loss_ppm": 0, "division_ug": grams(1)}
        formulas.write_version(house.candle.formula, fields, lines, signature=books.sign())


def _more_in_runs(house: SimpleNamespace) -> None:
    """More draws, readings and minutes in the runs that are there, one of them finished again."""
    books, people = house.books, house.people
    books.reverse(house.dispatch.posting)
    books.undo(house.finished)
    for batch in (house.finished, house.started):
        for number in range(2):
            for name, quantity in (("wax", "30 g"), ("fragrance", "3 g"), ("wick", 1)):
                lots = Lot.objects.filter(
                    item__name=name, held=False, on_hand__gt=grams(30) if name == "wax" else 3
                )
                lot = lots.filter(expires_on=None).order_by("pk")[number]
                posting = books.draw_into(batch, (lot, quantity))
                if number:
                    books.correct(posting, (lot, quantity))
            runs.take_reading(batch.pk, "pour", 57_000, note="", signature=books.sign())
            for step in ("weigh", "pour"):
                runs.note_labour(
                    batch,
                    person_id=people.owner.pk,
                    step=step,
                    minutes=5,
                    worked_on=date(2026, 3, 20),
                    signature=books.sign(),
                )
    first, second = books.finish(house.finished, 7, 2, scrap={"Frosting": 1, "Sinkhole": 1}, without=True)
    Lot.objects.filter(pk__in=[first.pk, second.pk]).update(ready_on=date(2026, 3, 18))
    house.cured = first


def _more_runs(house: SimpleNamespace) -> None:
    """More runs in every state, of the same product and from the same lots."""
    books = house.books
    for number in range(3):
        batch = books.plan(house.candle, 2, on=date(2026, 3, 9))
        books.fill(house.shelf, batch, 2, at=day(9 + number))
        made = books.finish(batch, 1, 1, at=day(9 + number, 12))
        moving.send(
            books.take((made[0], 1)), to="Fair", channel="", reference=f"wax {number}", signature=books.sign()
        )
        for on in (date(2026, 3, 17), date(2026, 3, 25)):
            books.plan(house.candle, 2, on=on)
            books.plan(house.rain, 2, on=on)
        begun = books.plan(house.candle, 1)
        books.draw_into(begun, (house.shelf["wax"], "92 g"))
        books.draw_into(house.overdue, (house.shelf["wax"], "10 g"))
        blend = books.plan(house.blend.version, grams(50))
        books.draw_into(blend, (house.shelf["wax"], "50 g"))
        books.finish(blend, good=grams(49))


def _queries(client, url: str) -> list[str]:
    with CaptureQueriesContext(connection) as captured:
        answer = client.get(url)
    assert answer.status_code == 200, url
    return [query["sql"].split(" WHERE ")[0][:160] for query in captured.captured_queries]


@pytest.mark.parametrize("role", ["owner", "maker"])
def test_twice_the_rows_take_the_same_number_of_queries(filled, role):
    client = enter(getattr(filled.people, role))
    forms = {
        "draw": reverse("batches:batch-draw", args=[filled.started.code]),
        "everything": "/stock/lots/?state=all",
        "the items of a kind": "/stock/?kind=wax&q=a",
    }
    urls = {**readable(filled, role), **forms}
    urls |= {f"{what} as a file": f"{url}?format=csv" for what, url in tables(filled, role).items()}
    # What went into the finished candle is traced from its batch: the lot is emptied and made anew below.
    ours = {what: url for what, url in urls.items() if what != "batches:trace-code"}
    # From none to one a page may ask more; from one to many it may not.
    filled.books.draw_into(filled.overdue, (filled.shelf["wax"], "10 g"))
    client.get("/")
    before = {what: _queries(client, url) for what, url in ours.items()}

    more(SimpleNamespace(**vars(filled)))

    grown = {}
    for what, url in ours.items():
        after = _queries(client, url)
        if len(after) != len(before[what]):
            added = [sql for sql in after if after.count(sql) > before[what].count(sql)]
            grown[what] = (len(before[what]), len(after), sorted(set(added)))
    assert grown == {}


def test_a_delivery_of_many_lines_takes_as_many_queries_as_one_of_a_single_line(filled):
    books, client = filled.books, enter(filled.people.owner)
    one = books.deliver(books.arrival("wax", "1 kg", 5))
    many = books.deliver(
        *[books.arrival(name, "1 kg", 5) for name in ("wax", "fragrance", "dye", "additive") * 5]
    )
    client.get("/")

    for of in (
        lambda delivery: delivery.get_absolute_url(),
        lambda delivery: delivery.posting.get_absolute_url(),
    ):
        assert len(_queries(client, of(one))) == len(_queries(client, of(many)))


def test_a_formula_of_many_lines_takes_as_many_queries_as_one_of_few(filled):
    books, client = filled.books, enter(filled.people.owner)
    few = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 50_000)]
    many = [
        *few,
        ("dye", "of_melt", 100),
        ("additive", "of_wax", 100),
        *[(f"label {n}", "per_unit", 1) for n in range(6)],
    ]
    for n in range(6):
        books.item(f"label {n}", kind="label")
    versions = [books.formula(name, lines, fill="100 g") for name, lines in (("Few", few), ("Many", many))]
    batches = [books.plan(version, 2) for version in versions]
    client.get("/")

    shown = {len(_queries(client, version.get_absolute_url())) for version in versions}
    assert len(shown) == 1
    for name in ("batch-detail", "batch-draw", "batch-ticket"):
        assert (
            len({len(_queries(client, reverse(f"batches:{name}", args=[batch.code]))) for batch in batches})
            == 1
        ), name
    adding = {
        len(_queries(client, reverse("batches:version-add", args=[version.formula_id])))
        for version in versions
    }
    assert len(adding) == 1
    planning = {
        len(_queries(client, f"/batches/plan/?formula={version.pk}&quantity=2")) for version in versions
    }
    assert len(planning) == 1


def test_the_trace_of_a_lot_in_many_batches_takes_as_many_queries_as_of_one_in_few(filled):
    books, client = filled.books, enter(filled.people.owner)
    client.get("/")
    url = reverse("batches:trace-code", args=[filled.shelf["wax"].code])
    before = len(_queries(client, url))

    for _ in range(5):
        batch = books.plan(filled.candle, 1)
        books.fill(filled.shelf, batch, 1)
        books.finish(batch, 1)

    assert len(_queries(client, url)) == before
