"""What is in the filled studio, with every figure worked out by hand.

Money of the goods: wax 10 kg for 61.30 and fragrance 1 kg for 43.70 on one delivery with 10.50 freight by cost, a
tenth of 105.00; so 6.13 and 4.37 freight, 67.43 and 48.07 landed. A wick 0.127, a vessel 2.09.
"""

from datetime import date
from types import SimpleNamespace

from batches import formulas, runs
from batches.models import Batch, FormulaVersion
from costing import rates
from inventory import holding, moving
from inventory.models import Lot, Posting, Review
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
    _open_runs(house)
    _rates(house)
    return house


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
        house.allowed.pk, date(2026, 4, 30), on=NOW.date(), signature=books.sign(reason="A test batch set well")
    )
    house.override = books.draw(house.allowed, "2 g")
    label = books.receive("label", 40, cost="4.69")
    house.reversal = books.reverse(label.delivery_line.delivery.posting, "the invoice was somebody else's")
    house.delivery = house.shelf["wax"].delivery_line.delivery


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
    runs.note_labour(
        house.finished,
        person_id=people.maker.pk,
        step="pour",
        minutes=60,
        worked_on=date(2026, 3, 10),
        signature=books.sign(),
    )
    runs.take_reading(house.finished.pk, "pour", 58_000, note="steady", signature=books.sign(day(10, 10)))
    house.dispatch = moving.send(
        books.take((house.cured, 2)),
        to="Harbour Street Market",
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


def _open_runs(house: SimpleNamespace) -> None:
    """One in progress, one overdue and short of 48 g of oil, one planned, one called off."""
    books = house.books
    house.started: Batch = books.plan(house.candle, 5)
    books.draw_into(house.started, (house.shelf["wax"], "460 g"))
    house.overdue = books.plan(house.rain, 6, on=date(2026, 3, 18))
    house.planned = books.plan(house.candle, 8, on=date(2026, 3, 24))
    house.called_off = books.plan(house.candle, 2)
    runs.call_off(house.called_off.pk, signature=books.sign(reason="No market that day"))


def _rates(house: SimpleNamespace) -> None:
    signed = {"by": house.people.owner, "now": NOW}
    rates.set_labour_rate(from_on=date(2026, 1, 1), person=None, per_hour=money("24.60"), **signed)
    rates.set_overhead_rate(from_on=date(2026, 1, 1), basis="per_batch", amount=money("7.40"), **signed)
