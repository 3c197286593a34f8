"""What is in the filled studio, with every figure worked out by hand.

Money of the goods: wax 10 kg for 61.30 and fragrance 1 kg for 43.70 on one delivery with 10.50 freight by cost, a
tenth of 105.00; so 6.13 and 4.37 freight, 67.43 and 48.07 landed. A wick 0.127, a vessel 2.09.
"""

from datetime import date
from types import SimpleNamespace

from batches.burn_tests import burning
from batches.complaints import complaining
from batches.formulas import writing as formulas
from batches.formulas.hazard_labels import enter_hazard_label, scents_of
from batches.formulas.sheet import batch_sheet
from batches.models import Batch, FormulaVersion
from batches.planning import plans
from batches.production import finishing, runs
from batches.recalls import recalling
from costing.models import GoodsRule
from costing.prices import channels
from costing.rates import rates
from costing.valuation.closing import close_books
from inventory.counting import counting
from inventory.customers import customers
from inventory.customers.customers import Contact, customer_named
from inventory.documents import services
from inventory.lots import holding
from inventory.models import Lot, Posting, Review, Shop
from inventory.purchasing import ordering
from inventory.sales_orders import customer_orders
from inventory.shipments import dispatching
from inventory.shop_files import import_service
from inventory.shop_files.reading import Product
from studio import confirmed_warnings
from studio.core.label_warnings import USUAL
from studio.web import uploads
from tests.costing.thoughts import think
from tests.files import picture
from tests.house import NOW, Books, day, grams, money


def fill(people: SimpleNamespace) -> SimpleNamespace:
    """The studio's people, lots, formulas, batches and postings by a short name."""
    books = Books(people.owner)
    house = SimpleNamespace(people=people, books=books, shelf=_shelf(books))
    _odd_lots(house)
    house.candle = books.candle(cure_days=7, pour_from_mc=55_000, pour_to_mc=60_000)
    house.draft = _draft(house)
    house.rain = books.formula(
        "Rain on Slate",
        [("wax", "wax_share", 1_000_000), ("Rain on Slate oil", "of_melt", 80_000)],
        fill="100 g",
    )
    _finished(house)
    _curing(house)
    _blend(house)
    _ended_otherwise(house)
    _open_runs(house)
    _trials(house)
    _counts(house)
    _orders(house)
    _papers(house)
    _label_words(house)
    _tables(house)
    _wanted(house)
    _shop(house)
    _rates(house)
    _prices(house)
    _complaints(house)
    _closed(house)
    return house


def _closed(house: SimpleNamespace) -> None:
    """The books closed through a year in which nothing was there yet, and what is counted into goods."""
    goods = {"with_owner": True, "normal_loss_ppm": 20_000, "set_by": house.people.owner, "set_at": NOW}
    GoodsRule.objects.create(from_on=date(2026, 3, 1), **goods)
    house.closing = close_books(date(2024, 12, 31), signature=house.books.sign(reason="The year is over"))


def _complaints(house: SimpleNamespace) -> None:
    """One grave and answered with a photo, one whose code is lost, one closed; a drill that runs and one that ended.

    The drill is of the wax: two candles of it went to the market, one of which is back.
    """
    books = house.books
    who = customer_named(Contact("Wilf Harrow", reach="555 0142"), at=NOW)
    house.complaint = books.complain(house.cured, kind="injury", customer=who, reference="HS-17")
    house.complaint_photo = complaining.add_photo(
        house.complaint.pk,
        uploads.receive_picture("jar.png", picture()),
        text="The jar",
        signature=books.sign(),
    )
    complaining.change(house.complaint.pk, signature=books.sign(), state="answered", answer="We are sorry.")
    house.lost = books.complain(item=house.cured.item, sold_from=date(2026, 3, 12))
    house.settled = books.complain(house.curing, kind="scent", at=day(19, 13))
    end = {"state": "closed", "outcome": "replaced", "cause": "Poured too hot"}
    complaining.change(house.settled.pk, signature=books.sign(), **end)
    house.drill = books.recall(house.shelf["wax"], drill=True, complaint=house.complaint)
    house.party = house.drill.parties.earliest("pk")
    (house.said,) = recalling.answer(
        house.party.pk,
        "returned",
        on=NOW.date(),
        quantities={house.cured.item: 1},
        note="By post",
        signature=books.sign(),
    )
    wrong = recalling.answer(house.party.pk, "told", on=NOW.date(), signature=books.sign())[0]
    recalling.take_back(wrong.pk, signature=books.sign(reason="The wrong customer"))
    house.drilled = books.recall(house.soap[0], drill=True, at=day(18))
    recalling.close(house.drilled.pk, finding="Everything was found.", signature=books.sign(day(18, 11)))


def _shelf(books: Books) -> dict[str, Lot]:
    books.item("Rain on Slate oil", kind="fragrance")
    books.deliver(
        books.arrival("wax", "10 kg", "61.30", supplier_lot="TW-88"),
        books.arrival("fragrance", "1 kg", "43.70", supplier_lot="SF-31"),
        freight="10.50",
    )
    books.deliver(books.arrival("wick", 100, "12.70"), books.arrival("vessel", 50, "104.50"))
    return {name: Lot.objects.get(item__name=name) for name in ("wax", "fragrance", "wick", "vessel")}


def _odd_lots(house: SimpleNamespace) -> None:
    """One lot on hold, one expired, one about to, one emptied below nothing, one receipt reversed."""
    books = house.books
    house.held = books.receive("fragrance", "200 g", cost="9.10", supplier_lot="SF-32")
    holding.hold(house.held.pk, signature=books.sign(reason="Smells of solvent"))
    house.expired = books.receive("wax", "300 g", cost="2.19", expires_on=date(2026, 3, 10))
    house.expiring = books.receive("dye", "50 g", cost="8.30", expires_on=date(2026, 4, 1))
    jar = books.receive("additive", "120 g", cost="3.39")
    # The books hold 120 g and the scale said 128 g: 8 g are booked as found.
    house.found = books.draw(jar, "128 g", found=True)
    house.jar = jar
    looked_at = books.receive("additive", "10 g", cost="0.29")
    seen = books.draw(looked_at, "11 g", found=True)
    Review.objects.create(posting=seen, by=house.people.owner, at=NOW)
    books.item("Bayberry dye", kind="dye")
    house.allowed = books.receive("Bayberry dye", "30 g", cost="4.41", expires_on=date(2026, 3, 15))
    holding.allow_use(
        house.allowed.pk,
        date(2026, 4, 30),
        on=NOW.date(),
        signature=books.sign(reason="A test batch set well"),
    )
    house.override = books.draw(house.allowed, "2 g")
    label = books.receive("label", 40, cost="4.69")
    house.reversal = books.reverse(label.delivery_line.delivery.posting, "the invoice was somebody else's")
    house.delivery = house.shelf["wax"].delivery_line.delivery


def _tables(house: SimpleNamespace) -> None:
    """Ten boxes from a notebook, two of them used before, and a file that waits with something wrong in it."""
    books = house.books
    books.item("Old box", kind="packaging")
    house.table = books.bring_in("lots", "Item,Quantity,Cost,Arrived,Lot\nold box,10,1.30,2026-03-01,OB-7\n")
    house.past = books.bring_in("movements", "Date,Lot,Item,What,Quantity\n2026-03-05,OB-7,Old box,used,2\n")
    house.opened = Lot.objects.get(item__name="Old box")
    waiting = "Item,Quantity,Cost,Arrived\nold box,5,0.70,2026-03-02\nold bocks,5,0.70,03/04/2026\n"
    house.waiting = books.keep_table("lots", waiting)


def _papers(house: SimpleNamespace) -> None:
    """A sheet and a photo of the wax, a certificate of its lot; of the fragrance a sheet that ran out, one withdrawn
    and one erased."""
    books = house.books
    house.sheet = books.paper("wax", dated_on=date(2025, 11, 3), note="Section 9 on page 6")
    house.photo = books.paper("wax", "photo", picture(), note="The pail")
    house.lot_paper = books.paper("wax", "analysis", lot=house.shelf["wax"])
    house.ran_out = books.paper("fragrance", valid_until=date(2026, 2, 28))
    house.withdrawn = books.paper("fragrance", "ifra")
    services.withdraw(house.withdrawn.pk, signature=books.sign())
    house.erased = books.paper("fragrance", "other")
    services.erase(house.erased.pk, signature=books.sign(reason="Somebody's letter"))


def _label_words(house: SimpleNamespace) -> None:
    """The warning confirmed in both markets, and label elements of the candle: its sheet asks for none."""
    signature = house.books.sign()
    for market in ("us", "eu"):
        confirmed_warnings.confirm(market, USUAL[market].words, signature=signature)
    none = {"none_needed": True}
    version = with_lines(house.candle)
    scents = scents_of(version, batch_sheet(version.recipe(), 1))
    documents_of = {house.ran_out.item_id: house.ran_out}
    house.hazards = enter_hazard_label(version, none, documents_of, scents, signature=signature)


def with_lines(version: FormulaVersion) -> FormulaVersion:
    """A version read anew, with its lines and their items."""
    rows = FormulaVersion.objects.select_related("formula__item").prefetch_related("lines__item")
    return rows.get(pk=version.pk)


def _draft(house: SimpleNamespace) -> FormulaVersion:
    """A second version that nobody planned from yet."""
    books = house.books
    lines = [
        formulas.Ingredient(books.item("wax"), "wax_share", 1_000_000),
        formulas.Ingredient(books.item("fragrance"), "of_melt", 70_000),
    ]
    fields = {"fill_ug": grams(100), "loss_ppm": 0, "division_ug": grams(1), "what_changed": "A little less"}
    return formulas.write_version(house.candle.formula, fields, lines, signature=books.sign())


def _finished(house: SimpleNamespace) -> None:
    """Ten poured on 10 March, nine good, cured on the 17th, two of them sent out.

    Wax 0.920 kg × 6.743 = 6.20356; fragrance 0.080 kg × 48.07 = 3.8456; wicks 1.27; vessels 20.90: material
    32.21916. An hour at 24.60 and 7.40 overhead: 64.21916 in all, 7.13546 for each of nine.
    """
    books, people = house.books, house.people
    house.finished = books.plan(house.candle, 10, on=date(2026, 3, 10))
    house.draws = books.fill(house.shelf, house.finished, 10, at=day(10))
    (house.cured,) = books.finish(house.finished, 9, scrap={"Frosting": 1}, at=day(10, 12))
    house.worked = runs.note_labour(
        house.finished,
        person_id=people.maker.pk,
        step="pour",
        minutes=60,
        worked_on=date(2026, 3, 10),
        signature=books.sign(),
    )
    slip = runs.note_labour(
        house.finished,
        person_id=people.maker.pk,
        step="label",
        minutes=5,
        worked_on=date(2026, 3, 10),
        signature=books.sign(),
    )
    runs.take_back_labour(slip.pk, signature=books.sign(reason="Noted under another batch"))
    house.temperature = runs.take_reading(
        house.finished.pk, "pour", 58_000, note="steady", signature=books.sign(day(10, 10))
    )
    house.dispatch = dispatching.send(
        books.take((house.cured, 2)),
        to=Contact("Harbour Street Market"),
        channel="market",
        reference="HS-17",
        signature=books.sign(),
    )


def _curing(house: SimpleNamespace) -> None:
    """Four poured on 19 March, three good and one second; afterwards five wicks turn out to have been used."""
    books = house.books
    house.fresh = books.plan(house.candle, 4, on=date(2026, 3, 19))
    draws = books.fill(house.shelf, house.fresh, 4, at=day(19))
    house.curing, house.seconds = books.finish(house.fresh, 3, 1, at=day(19, 12))
    books.correct(draws["wick"], (house.shelf["wick"], 5))
    house.revaluation = Posting.objects.get(kind="revaluation")


def _blend(house: SimpleNamespace) -> None:
    """500 g of wax melted into a blend of which 490 g came out."""
    books = house.books
    books.item("Lane blend", kind="wax", made_here=True)
    version = books.formula("Lane blend", [("wax", "wax_share", 1_000_000)])
    house.blend = books.plan(version, grams(500), on=date(2026, 3, 12))
    books.draw_into(house.blend, (house.shelf["wax"], "500 g"), at=day(12))
    (house.blended,) = books.finish(house.blend, good=grams(490), at=day(12, 12))


def _ended_otherwise(house: SimpleNamespace) -> None:
    """A run that ended in two parts of which nothing is on the shelf, one given up, and the fills of the good one.

    Both are poured of the blend, 100 g a unit: 200 g in the one, 100 g in the other, half of which was recovered. The
    nine of `finished` declare 100 g: 100.4 on average, one 0.6 short. The four of `fresh` are fuller.
    """
    books = house.books
    version = books.formula(
        "Cedar & Black Tea", [("Lane blend", "wax_share", 1_000_000)], fill="100 g", name="Of the blend"
    )
    house.in_parts = books.plan(version, 2, on=date(2026, 3, 12))
    books.draw_into(house.in_parts, (house.blended, "200 g"), at=day(12, 13))
    books.finish(house.in_parts, rework=1, at=day(12, 14), last=False)
    books.finish(house.in_parts, scrap={"Cracking": 1}, at=day(12, 15))
    house.abandoned = books.plan(version, 1, on=date(2026, 3, 12))
    books.draw_into(house.abandoned, (house.blended, "100 g"), at=day(12, 16))
    recovered = finishing.Recovered(house.blended.item, grams(50))
    finishing.abandon(
        house.abandoned.pk, [recovered], signature=books.sign(at=day(12, 17), reason="The pot scorched")
    )
    house.recovered = Lot.objects.get(outcome__batch=house.abandoned)
    books.check_fill(house.fresh, ["101", "100.3", "100.2", "100.6"], declared="100 g", market="us")
    nets = ["100.2", "101.1", "100.7", "99.4", "100.3", "100.9", "100.1", "100.6", "100.3"]
    house.fill = books.check_fill(house.finished, nets, declared="100 g", lot_size=10)


def _open_runs(house: SimpleNamespace) -> None:
    """One in progress, one overdue and short of 48 g of oil, one planned, one called off."""
    books = house.books
    house.started: Batch = books.plan(house.candle, 5)
    books.draw_into(house.started, (house.shelf["wax"], "460 g"))
    _weighed_at_the_bench(house)
    house.overdue = books.plan(house.rain, 6, on=date(2026, 3, 18))
    house.planned = books.plan(house.candle, 8, on=date(2026, 3, 24))
    house.called_off = books.plan(house.candle, 2)
    plans.call_off(house.called_off.pk, signature=books.sign(reason="No market that day"))


def _weighed_at_the_bench(house: SimpleNamespace) -> None:
    """Of the run in progress: five wicks, a reading that was taken back, a note and a photo."""
    books = house.books
    books.bench(house.started, "draw", line="wick", lot=house.shelf["wick"], quantity=5)
    slip = books.bench(house.started, "reading", reading="melt", temperature_mc=185_000)
    books.bench(house.started, "undo", takes_back=slip.key)
    books.bench(house.started, "note", text="Draught from the door")
    shown = uploads.receive("pot.jpg", picture())
    house.bench_photo = books.bench(house.started, "photo", photo=shown, text="The pot").photo


def _trials(house: SimpleNamespace) -> None:
    """A burn test that is burning, one that passed, and a version approved on the owner's word.

    Two jars of 100 g of melt: from 351 g to 331 g and 309 g, and from 352 g to 330 g and 306 g, four hours a cycle:
    42 g and 46 g in eight hours each, 88 g in 16 h or 5.5 g an hour; 100 g last 18.18 h. The second cycle of the first
    jar was read from another and struck out.
    """
    books = house.books
    house.burned = books.burn(house.candle, at=day(4))
    house.burning = books.light(
        house.candle, "351 g", "352 g", at=day(18), plan="A larger wick", batch_id=house.finished.pk
    )
    books.read(
        house.burning,
        1,
        {"weight": "331 g", "flame_um": 40_000, "pool_um": 61_000, "vessel_mc": 47_500},
        {"weight": "330 g", "flame_um": 45_000, "full_pool_after": 170},
        at=day(18, 13),
    )
    second = {"weight": "306 g", "flame_um": 47_000, "mushrooming": "slight"}
    house.slip, house.read = books.read(
        house.burning, 2, {"weight": "320 g", "flame_um": 44_000}, second, at=day(19, 13)
    )
    shown = uploads.receive("pool.jpg", picture())
    house.burn_photo = burning.add_photo(
        house.burning.pk, shown, text="The pool", signature=books.sign(day(19, 13))
    )
    burning.strike(house.slip.pk, signature=books.sign(day(19, 13), "Read from the wrong jar"))
    books.read(house.burning, 2, {"weight": "309 g", "flame_um": 80_000, "note": "Flickers"}, at=day(19, 14))
    books.approve(house.rain, "Sold at the fair for two years", at=day(17))


def _counts(house: SimpleNamespace) -> None:
    """One count in the books, one open and blind in which one lot of two is counted, one called off.

    Of 30 boxes for 6.39 one is missing, worth 0.213; of 400 g of soap wax 9 g are, 2.25 %.
    """
    books = house.books
    books.item("Gift box", kind="packaging")
    books.item("Soap wax")
    books.item("Ribbon reel", kind="packaging")
    house.boxes = books.receive("Gift box", 30, cost="6.39")
    reel = books.receive("Ribbon reel", 4, cost="3.37")
    house.counted = books.start_count("item", "Gift box", items=["Gift box"])
    books.look(house.counted, (house.boxes, 29), at=day(18))
    house.counted = books.post_count(house.counted)
    given_up = books.start_count("item", "Ribbon reel", items=["Ribbon reel"])
    books.look(given_up, (reel, 3))
    house.given_up = counting.call_off(given_up.pk, signature=books.sign())
    house.soap = [books.receive("Soap wax", quantity, cost="2.83") for quantity in ("400 g", "250 g")]
    house.count = books.start_count("item", "Soap wax", items=["Soap wax"], blind=True)
    books.look(house.count, (house.soap[0], "391 g"))


def _orders(house: SimpleNamespace) -> None:
    """Offers of 20 kg of wax now and before, and orders in every state.

    The draft: 6 × 20 kg from the offer, 6 × 80.53 = 483.18, and bands of no known price. One is late, one part
    received (200 of 300 bands), one arrived whole, one called off.
    """
    books = house.books
    books.item("Shrink band", kind="packaging")
    house.old_offer = books.offer("wax", "20 kg", (1, "81.29"), on=date(2026, 1, 9))
    house.offer = books.offer("wax", "20 kg", (1, "83.17"), (5, "80.53"), lead_days=6, supplier_code="TW-20")
    house.order_draft = books.order(("wax", 6, "20 kg"), ("Shrink band", 2, 100))
    house.order_late = books.order(("wax", 1, "20 kg"), sent=day(12))
    bands = ("Shrink band", 3, 100, "2.93")
    house.order_part = books.order(bands, sent=day(16), expected=date(2026, 3, 24))
    house.bands = books.bring(house.order_part, (0, 200), cost="5.86")
    house.order_whole = books.order(("Shrink band", 1, 100, "2.97"), sent=day(16))
    books.bring(house.order_whole, (0, 100), cost="2.97")
    house.order_off = books.order(("wax", 2, "20 kg"), sent=day(16))
    ordering.call_off(house.order_off.pk, signature=books.sign(reason="Ordered twice"))
    house.order_given_up = books.order(bands, sent=day(16))
    books.bring(house.order_given_up, (0, 200), cost="5.86")
    ordering.close(house.order_given_up.pk, signature=books.sign(reason="No longer made"))


def _wanted(house: SimpleNamespace) -> None:
    """Sixty of a candle that nobody poured yet, for the 30th; an order that was called off; and a lot chosen by hand."""
    books = house.books
    wanted = {"on": date(2026, 3, 30), "contact": "Ada Moor", "reach": "555 0188"}
    house.wanted = books.order_of("Moor & Mill", ("Rain on Slate", 60), **wanted)
    house.unwanted = books.order_of("Harbour Hall", ("Rain on Slate", 3), on=date(2026, 3, 28))
    customer_orders.call_off(house.unwanted.pk, signature=books.sign(reason="The feast is off"))
    books.choose(house.planned, (house.shelf["wax"], "10 g"))


def _shop(house: SimpleNamespace) -> None:
    """A shop that calls the candle by a name of its own, and a file of it with a product nobody knows."""
    house.shop = Shop.objects.create(
        name="Web shop",
        channel=customers.channel_named("Web shop"),
        columns={"reference": "Order", "product": "Article", "quantity": "Pieces", "customer": "Name"},
    )
    known = Product(house.books.item("Cedar & Black Tea").pk, 2)
    import_service.keep_products(house.shop.pk, {"Two cedar jars": known})
    house.shop_product = house.shop.products.get()
    rows = "Order,Name,Article,Pieces\nW-1,Ida Fennimore,Two cedar jars,1\nW-2,Wilf Harrow,Blue moon,1\n"
    house.shop_file = import_service.keep(
        house.shop, "orders.csv", rows.encode(), by=house.people.owner, now=NOW
    )


def _rates(house: SimpleNamespace) -> None:
    signed = {"by": house.people.owner, "now": NOW}
    rates.set_labour_rate(from_on=date(2026, 1, 1), person=None, per_hour=money("24.60"), **signed)
    rates.set_overhead_rate(from_on=date(2026, 1, 1), basis="per_batch", amount=money("7.40"), **signed)


def _prices(house: SimpleNamespace) -> None:
    """A web shop with fees and tax inside, and shops that pay half of its prices; the candle asked for in the first."""
    books, signed = house.books, {"by": house.people.owner, "now": NOW}
    fees = {"percent_ppm": 29_000, "fixed_micros": money("0.31"), "shipping_micros": money("4.57")}
    since = {"from_on": date(2026, 1, 5)}
    house.web = channels.open_channel(
        name="Web shop",
        terms={**since, **fees, "units_milli": 1800, "tax": "inside", "tax_ppm": 200_000},
        **signed,
    )
    half = {**since, "share_of": house.web, "share_ppm": 500_000}
    house.wholesale = channels.open_channel(name="Shops", terms=half, **signed)
    channels.set_price_points(way="up", step_micros=money(1), endings=[0, money("0.50"), money("0.95")])
    asked = {"item": house.cured.item, "channel": house.web, "price_micros": money("23.95")}
    channels.ask(**asked, from_on=date(2026, 1, 5), **signed)
    house.thought = think(books, "Quince Orchard", house.candle, channel=house.web, price="24.95")
    house.other_thought = think(
        books, "Rain on Slate, stronger", house.candle, scent="fragrance", load=90_000
    )
