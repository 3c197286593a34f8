"""Twice the rows, the same number of queries: no page grows slower with every lot it lists."""

from datetime import date
from types import SimpleNamespace

import pytest
from django.db import connection, reset_queries
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.burn_tests import burning
from batches.complaints import complaining
from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.models import Defect
from batches.production import runs
from batches.recalls import recalling
from costing.models import ScenarioExpense, ScenarioQuote
from costing.prices import channels
from costing.rates import rates
from inventory.counting import counting
from inventory.customers.customers import Contact
from inventory.deliveries import receiving as deliveries
from inventory.documents import services
from inventory.lots import holding
from inventory.models import Item, Lot, Supplier
from inventory.purchasing import ordering
from inventory.shipments import dispatching
from studio.models import Role, User
from studio.web import uploads
from tests.costing.thoughts import think
from tests.files import picture
from tests.house import ARRIVED, NOW, day, grams, money
from tests.web.conftest import enter
from tests.web.pages import readable, tables


def more(house: SimpleNamespace) -> None:
    """At least twice as many rows of everything, on the pages of the very things `readable` shows."""
    books, people = house.books, house.people
    _more_shelf(house)
    _more_names(house)
    _more_orders(house)
    _more_papers(house)
    _more_tables(house)
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
    _more_trials(house)
    _more_ends(house)
    _more_counts(house)
    _more_wanted(house)
    _more_channels(house)
    _more_complaints(house)
    for _ in range(3):
        books.send(house.cured, 1)
        books.draw(house.shelf["wax"], "1 g")
        seen = books.receive("additive", "3 g", cost=1)
        books.draw(seen, "4 g", found=True)


def _more_complaints(house: SimpleNamespace) -> None:
    """Complaints of every kind, changes and photos of one, drills, and answers to one."""
    books = house.books
    for number in range(3):
        for kind in ("injury", "scent", "glass"):
            complaint = books.complain(house.cured, kind=kind, customer=house.complaint.customer)
            books.complain(item=house.cured.item, kind=kind, sold_from=date(2026, 3, 12))
        end = {"state": "closed", "outcome": "advised", "cause": f"Draught {number}"}
        complaining.change(complaint.pk, signature=books.sign(), **end)
        for of in (house.complaint, house.settled, house.lost):
            shown = uploads.receive_picture("jar.png", picture(colour=(80 * number, 90, 90)))
            complaining.add_photo(of.pk, shown, signature=books.sign())
            complaining.change(of.pk, signature=books.sign(), units=number + 2)
        recalling.answer(house.party.pk, "told", on=NOW.date(), note="Again", signature=books.sign())
        books.recall(house.shelf["wax"], house.soap[1], drill=True, complaint=house.complaint)


def _more_channels(house: SimpleNamespace) -> None:
    """Channels with terms of several days, and prices asked in them for every candle."""
    signed = {"by": house.people.owner, "now": NOW}
    candles = list(Item.objects.filter(kind="finished"))
    for number in range(3):
        terms = {"from_on": date(2026, 2, 1 + number), "percent_ppm": 10_000 * number}
        channel = channels.open_channel(name=f"Stall {number}", terms=terms, **signed)
        for each in (channel, house.web, house.wholesale):
            channels.set_terms(each, terms={**terms, "from_on": date(2026, 3, 1)}, **signed)
            for item in candles:
                price = {"channel": each, "price_micros": money(19 + number), "from_on": date(2026, 3, 2)}
                channels.ask(item=item, **price, **signed)

    _more_thoughts(house)


def _more_thoughts(house: SimpleNamespace) -> None:
    """Scenarios, and more of everything that one of them stands on."""
    for number in range(4):
        think(house.books, f"Thought {number}", house.candle, channel=house.web, price="21.95")
    for scenario in (house.thought, house.other_thought):
        for number in range(3):
            ScenarioQuote.objects.create(
                scenario=scenario,
                typed_pack=f"{number + 5} kg",
                pack_quantity=grams(5000 + 1000 * number),
                price_micros=money(250),
            )
            ScenarioExpense.objects.create(scenario=scenario, kind="burn", number=2, each_micros=money(8))


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


def _more_orders(house: SimpleNamespace) -> None:
    """Offers, orders in every state, lines of the draft, and deliveries against one order."""
    books = house.books
    for number in range(3):
        books.offer("wax", "20 kg", (1, 80 + number), (5, 78), (20, 75), on=date(2026, 3, 2 + number))
        books.offer("wax", f"{number + 1} kg", (1, 6))
        books.item(f"Ordered {number}", kind="packaging")
        books.order(("wax", 1, "20 kg"), (f"Ordered {number}", 1, 10))
        for expected in (date(2026, 3, 17), date(2026, 3, 25)):
            books.order(("wax", 1, "20 kg"), (f"Ordered {number}", 1, 10), sent=day(15), expected=expected)
        books.bring(house.order_part, (0, 10))
    names = ("wax", "Shrink band", "wick", "vessel", *(f"Ordered {number}" for number in range(3)))
    pack = {"wax": "20 kg"}
    ordering.change(
        house.order_draft.pk,
        supplier=books.supplier(),
        wanted=[books.wanted(name, 2, pack.get(name, 10)) for name in names],
        signature=books.sign(),
    )


def _more_tables(house: SimpleNamespace) -> None:
    """More lots and movements from tables, more of what is wrong in the one that waits, and more that wait."""
    books = house.books
    for number in range(3):
        rows = "".join(f"old box,{number + 1},1,2026-03-02,OB-{number}{each}\n" for each in range(3))
        books.bring_in("lots", f"Item,Quantity,Cost,Arrived,Lot\n{rows}")
        rows = "".join(f"2026-03-0{day},OB-7,old box,used,1\n" for day in (5, 6))
        sold = f"2026-03-07,OB-{number}0,old box,sold,1\n"
        books.bring_in("movements", f"Date,Lot,Item,What,Quantity\n{rows}{sold}")
        wrong = "old box,5,0.70,2026-03-02\n" * 4 + "old bocks,5,0.70,03/04/2026\n" * 4
        waiting = books.keep_table("lots", f"Item,Quantity,Cost,Arrived\n{wrong}")
    type(waiting).objects.filter(pk=house.waiting.pk).update(content=waiting.content)


def _more_wanted(house: SimpleNamespace) -> None:
    """Orders of customers, open and sent, runs for one of them, and lots chosen by hand."""
    books = house.books
    # What was missing stays missing, so that it is told as before when and where to buy it.
    for oil in Lot.objects.on_shelf().filter(item__name="Rain on Slate oil"):
        books.draw(oil, f"{oil.on_hand // grams(1)} g")
    for number in range(3):
        wanted = (house.rain.formula.item.name, 2), ("Cedar & Black Tea", 1)
        order = books.order_of(f"Moor & Mill {number}", *wanted, on=date(2026, 3, 19 + number))
        books.plan(house.rain, 1, order=house.wanted)
        books.plan(house.rain, 1, order=order)
        sent = books.order_of("Harbour Hall", ("Cedar & Black Tea", 1))
        books.send_for(sent, (house.cured, 1))
        books.choose(house.planned, (books.receive("wax", "40 g"), "10 g"))


def _more_papers(house: SimpleNamespace) -> None:
    """Papers of every kind and state beside the same items and lots, and more that was done to one of them."""
    books = house.books
    for number in range(3):
        for kind in ("safety", "ifra", "analysis", "other"):
            books.paper("wax", kind, lot=house.shelf["wax"] if kind == "analysis" else None)
            services.withdraw(books.paper("fragrance", kind).pk, signature=books.sign())
        books.paper("wax", "photo", picture(colour=(90 * number, 80, 90)))
        books.item(f"Sheetless {number}", kind="dye")
        for act in (services.withdraw, services.put_back):
            act(house.sheet.pk, signature=books.sign())


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
    Lot.objects.filter(pk__in=[first.pk, second.pk]).update(ready_on=date(2026, 3, 18), awaits_release=False)
    house.cured = first


def _more_runs(house: SimpleNamespace) -> None:
    """More runs in every state, of the same product and from the same lots."""
    books = house.books
    for number in range(3):
        batch = books.plan(house.candle, 2, on=date(2026, 3, 9))
        books.fill(house.shelf, batch, 2, at=day(9 + number))
        made = books.finish(batch, 1, 1, at=day(9 + number, 12))
        dispatching.send(
            books.take((made[0], 1)),
            to=Contact(f"Fair {number}"),
            reference=f"wax {number}",
            signature=books.sign(),
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


def _more_ends(house: SimpleNamespace) -> None:
    """More parts and fill checks of the same run, more defects on the list, and more lots that wait for a release."""
    books = house.books
    books.undo(house.in_parts)
    for number in range(3):
        books.finish(house.in_parts, rework=1, at=day(12, 16 + number), last=False)
        Defect.objects.create(words=f"Odd {number}")
        books.check_fill(house.finished, [101, 100, 102, 99] * 3, declared="100 g")
        books.check_fill(house.fresh, [101, 100, 102, 99] * 3, declared="100 g", market="us")
        batch = books.plan(house.candle, 2, on=date(2026, 3, 9))
        books.fill(house.shelf, batch, 2, at=day(9))
        books.finish(batch, 1, 1, at=day(9, 12), release=False)
    books.finish(house.in_parts, scrap={"Odd 1": 1}, at=day(12, 19))


def _more_trials(house: SimpleNamespace) -> None:
    """More burn tests in every state, more cycles of one, slips struck out; versions approved on a word; limits."""
    books = house.books
    for number in range(3):
        books.burn(house.candle)
        lit = books.light(house.candle, "300 g", "301 g", "302 g")
        books.read(lit, 1, {"weight": "280 g"}, {"weight": "281 g"})
        weights = ({"weight": f"{300 - 9 * number} g"}, {"weight": f"{299 - 9 * number} g", "soot": "heavy"})
        slip, _ = books.read(house.burning, 3 + number, *weights)
        burning.strike(slip.pk, signature=books.sign(reason="Read wrongly"))
        books.read(house.burning, 3 + number, weights[0])
        approving.change_state(house.rain.pk, "retired", signature=books.sign(reason="Out of season"))
        books.approve(house.rain, "In season again")
        lines = [formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000)]
        fields = {"fill_ug": grams(100), "loss_ppm": 0, "division_ug": grams(1)}
        for formula in (house.rain.formula, house.candle.formula):
            books.approve(formulas.write_version(formula, fields, lines, signature=books.sign()))
        burning.set_limits(limits={"cycles": number + 1}, signature=books.sign())


def _more_counts(house: SimpleNamespace) -> None:
    """More lots on the open count, some counted and far off; more counts in every state, more items and places due."""
    books = house.books
    for number in range(4):
        lot = books.receive("Soap wax", "100 g", cost=1)
        Lot.objects.filter(pk=lot.pk).update(place=f"Bay {number}", tare_ug=grams(10))
        counting.add_lot(house.count.pk, lot.pk, signature=books.sign())
        if number % 2:
            books.look(house.count, (lot, "50 g"))
        name = f"Crate {number}"
        books.item(name, kind="packaging")
        crate = books.receive(name, 10, cost=2)
        count = books.start_count("item", name, items=[name])
        books.look(count, (crate, 10 if number % 2 else 8))
        books.look(count, (crate, 10 if number % 2 else 8))
        if number < 3:
            books.post_count(count)
        else:
            counting.call_off(count.pk, signature=books.sign())
        books.item(f"Chest {number}", kind="packaging")
        books.receive(f"Chest {number}", 10, cost=2)


def _queries(client, url: str) -> list[str]:
    # The log holds so many and then forgets the first of them.
    reset_queries()
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
    # What went into the finished candle is traced from its batch: the lot is emptied and made anew below, and what was
    # sent of it is reversed, so that nothing of that can come back and nobody has any.
    elsewhere = ("batches:trace-", "inventory:dispatch-return", "lot cured")
    ours = {what: url for what, url in urls.items() if not what.startswith(elsewhere)}
    # From none to one a page may ask more; from one to many it may not.
    filled.books.draw_into(filled.overdue, (filled.shelf["wax"], "10 g"))
    client.get("/")
    before = {what: _queries(client, url) for what, url in ours.items()}

    more(SimpleNamespace(**vars(filled)))

    grown = {}
    for what, url in ours.items():
        after = _queries(client, url)
        if what == "batches:complaint-detail" and len(after) < len(before[what]):
            # It follows the candle's lot too, which is emptied: less is passed on, so fewer levels are asked for.
            continue
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


def test_a_count_of_many_lots_takes_as_many_queries_as_one_of_few(filled):
    books, client = filled.books, enter(filled.people.owner)
    counts = []
    for size in (2, 9):
        name = f"Basket {size}"
        books.item(name, kind="packaging")
        lots = [books.receive(name, 100, cost=9) for _ in range(size)]
        opened = books.start_count("item", name, items=[name])
        books.look(opened, *[(lot, 99) for lot in lots[1:]])
        counts.append(opened)
    client.get("/")

    names = ("count-detail", "count-enter", "count-post", "count-sheet", "count-call-off")
    for name in names:
        urls = [reverse(f"inventory:{name}", args=[count.pk]) for count in counts]
        assert len({len(_queries(client, url)) for url in urls}) == 1, name
    done = [books.post_count(count) for count in counts]
    for url_of in (lambda count: count.get_absolute_url(), lambda count: count.posting.get_absolute_url()):
        assert len({len(_queries(client, url_of(count))) for count in done}) == 1


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
        # Of both something is missing, so that both are told when and where to buy it.
        len(_queries(client, f"/batches/plan/?formula={version.pk}&quantity=400"))
        for version in versions
    }
    assert len(planning) == 1


def test_the_trace_of_a_lot_in_many_batches_takes_as_many_queries_as_of_one_in_few(filled):
    books, client = filled.books, enter(filled.people.owner)
    client.get("/")
    pages = ("trace-code", "trace-rows", "trace-sheet")
    urls = [reverse(f"batches:{page}", args=[filled.shelf["wax"].code]) for page in pages]
    before = [len(_queries(client, url)) for url in urls]

    for _ in range(5):
        batch = books.plan(filled.candle, 1)
        books.fill(filled.shelf, batch, 1)
        books.finish(batch, 1)

    assert [len(_queries(client, url)) for url in urls] == before
