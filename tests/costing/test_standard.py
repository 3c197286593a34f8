"""What a product should cost: the formula at a price basis, work as set or as the last runs showed, what is lost."""

from datetime import date, timedelta
from fractions import Fraction

import pytest

from batches.production import runs
from costing.models import WorkStandard, WorkStep
from costing.rates.rates import set_labour_rate, set_overhead_rate
from costing.standard.price_basis import PriceBasis
from costing.standard.standard import standard_cost
from inventory.purchasing import offers
from inventory.purchasing.offers import Break
from tests.house import NOW, TODAY, day, grams, money

pytestmark = pytest.mark.django_db
SPRING = date(2026, 1, 1)


def set_work(books, version, steps, *, loss=None, on=SPRING):
    standard = WorkStandard.objects.create(
        formula=version.formula, from_on=on, spoilage_ppm=loss, set_by=books.by, set_at=NOW
    )
    for task, minutes, seconds in steps:
        WorkStep.objects.create(standard=standard, task=task, batch_minutes=minutes, unit_seconds=seconds)


def offer(books, name, pack, *breaks, on=SPRING, until=None):
    item = books.item(name)
    return offers.enter_offer(
        supplier=books.supplier(),
        item=item,
        pack_quantity=pack,
        typed_pack=str(pack),
        breaks=[Break(packs, money(price)) for packs, price in breaks],
        quoted_on=on,
        valid_until=until,
        signature=books.sign(),
    )


@pytest.fixture
def candle(books):
    """92 g of wax at 5.00/kg, 8 g of fragrance at 40.00/kg, a wick at 0.10, a vessel at 2.00: 2.88 for one."""
    version = books.candle()
    for name, arrives, cost in (
        ("wax", "10 kg", 50),
        ("fragrance", "1 kg", 40),
        ("wick", 100, 10),
        ("vessel", 50, 100),
    ):
        books.receive(name, arrives, cost=cost)
    return version


def told(sheet):
    return {head: value for head, value in sheet.heads.items() if value}


def test_a_standard_is_the_formula_at_its_prices_and_the_work_it_should_take(books, candle):
    # 100 candles: wax 9.2 kg × 5 = 46, fragrance 0.8 kg × 40 = 32, wicks 10, vessels 200; 30 min + 100 × 36 s = 90 min at
    # 20.00 = 30; overhead 50 % of it = 15. Together 333. One in ten is lost: 33.30, so 90 good ones at 3.70.
    set_work(books, candle, [("pour", 30, 36)], loss=100_000)
    set_labour_rate(from_on=SPRING, person=None, per_hour=money(20), by=books.by, now=NOW)
    set_overhead_rate(from_on=SPRING, basis="of_labour", amount=500_000, by=books.by, now=NOW)

    sheet = standard_cost(candle, units=100, on=TODAY)

    assert sheet.before_loss == {
        "wax": money(46),
        "fragrance": money(32),
        "colour_additives": 0,
        "wick": money(10),
        "vessel_lid": money(200),
        "label_packaging": 0,
        "labour": money(30),
        "overhead": money(15),
    }
    assert told(sheet) == {
        "wax": money("41.4"),
        "fragrance": money("28.8"),
        "wick": money(9),
        "vessel_lid": money(180),
        "labour": money(27),
        "overhead": money("13.5"),
        "spoilage": money("33.3"),
    }
    assert (sheet.total, sheet.good, sheet.per_unit) == (money(333), 90, money("3.70"))
    assert sheet.minutes == 90
    assert sheet.missing == ()


def test_what_is_not_known_is_named_with_what_it_blocks_and_where_it_is_entered(books):
    version = books.candle()
    books.receive("wax", "10 kg", cost=50)

    sheet = standard_cost(version, units=10, on=TODAY)

    assert told(sheet) == {"wax": money("4.60")}
    assert [(each.sentence, each.url_name) for each in sheet.missing] == [
        ("fragrance was not received by 20 Mar 2026.", "inventory:delivery-add"),
        ("wick was not received by 20 Mar 2026.", "inventory:delivery-add"),
        ("vessel was not received by 20 Mar 2026.", "inventory:delivery-add"),
        (
            "Nothing says how long Cedar & Black Tea takes: no standard is set, and no run has minutes noted.",
            "costing:work-standard",
        ),
        ("No overhead rate holds on 20 Mar 2026.", "costing:rates"),
    ]
    assert sheet.missing[0].blocks == "fragrance counts as nothing here."


def test_each_basis_takes_its_own_price(books, candle):
    # Wax came at 5.00/kg, and 10 kg more at 7.00: latest 7.00, on average 6.00. Offered in bags of 5 kg at 30.00, from
    # four bags on at 24.00: 6.00/kg for the 0.92 kg of ten candles, 4.80/kg when 20 kg are bought at once.
    books.receive("wax", "10 kg", cost=70, at=day(5))
    offer(books, "wax", grams(5_000), (1, 30), (4, 24))

    def wax(basis, **more):
        line = standard_cost(candle, units=10, on=TODAY, basis=basis, **more).lines[0]
        return line.price.material * grams(1_000)

    assert wax(PriceBasis.LATEST) == money(7)
    assert wax(PriceBasis.AVERAGE) == money(6)
    assert wax(PriceBasis.REPLACEMENT) == money(6)
    # 218 candles take 20.056 kg of wax: five bags.
    assert wax(PriceBasis.OFFER, offer_units=218) == money("4.80")
    assert wax(PriceBasis.OFFER) == money(6)


def test_replacement_falls_back_to_the_latest_receipt_and_offers_do_not(books, candle):
    offer(books, "fragrance", grams(1_000), (1, 30), until=date(2026, 3, 19))

    replacement = standard_cost(candle, units=10, on=TODAY, basis=PriceBasis.REPLACEMENT)
    by_offer = standard_cost(candle, units=10, on=TODAY, basis=PriceBasis.OFFER)

    assert replacement.lines[1].price.material * grams(1_000) == money(40)
    assert "received 1 Mar 2026" in replacement.lines[1].price.said
    assert "No offer of fragrance holds." in [each.sentence for each in by_offer.missing]


def test_the_smallest_outlay_decides_among_offers(books, candle):
    # For 80 g of fragrance: one bottle of 100 g for 9.00 rather than a kilogram for 60.00, although that is cheaper a gram.
    offer(books, "fragrance", grams(100), (1, 9))
    offer(books, "fragrance", grams(1_000), (1, 60))

    line = standard_cost(candle, units=10, on=TODAY, basis=PriceBasis.REPLACEMENT).lines[1]

    assert (line.quantity, line.value) == (grams(80), money("7.20"))


def test_an_earlier_day_knows_nothing_of_a_later_price(books, candle):
    books.receive("wax", "10 kg", cost=70, at=day(5))

    before = standard_cost(candle, units=10, on=day(4).date()).lines[0]

    assert before.price.material * grams(1_000) == money(5)


def test_without_a_standard_the_last_runs_say_what_a_run_takes_and_loses(books, candle):
    # Two runs of ten: 20 and 40 minutes, none and two lost. So 3 minutes each, and a tenth is lost.
    set_labour_rate(from_on=SPRING, person=None, per_hour=money(20), by=books.by, now=NOW)

    for minutes, scrap in ((20, 0), (40, 2)):
        batch = books.plan(candle, 10, on=TODAY - timedelta(days=2))
        books.draw_into(batch, (books.receive("wick", 10, cost=1), 10))
        runs.note_labour(
            batch,
            person_id=books.by.pk,
            step="pour",
            minutes=minutes,
            worked_on=TODAY,
            signature=books.sign(),
        )
        books.finish(batch, 10 - scrap, scrap={"Sinkhole": scrap} if scrap else None, without=True)

    sheet = standard_cost(candle, units=100, on=TODAY + timedelta(days=1))

    assert [(line.task, line.minutes, line.cost) for line in sheet.work] == [("pour", 300, money(100))]
    assert sheet.plan.spoilage_ppm == 100_000
    assert sheet.plan.work_said == "as the last 2 runs showed, and two are few"


def test_a_blend_costs_what_its_own_batches_should_cost_labour_included_to_any_depth(books):
    # 1 kg of colour in 9 kg of wax, and 1 kg of that in 9 kg of wax again. Wax 5.00/kg, dye 50.00/kg.
    # First blend 10 kg: 45 + 50 = 95, an hour 20, overhead 10: 9.50 + 2.00 + 1.00 a kg.
    # Second 10 kg: 45 + 9.50 = 54.50 material, 2.00 + 20 labour, 1.00 + 10 overhead.
    for name, arrives, cost in (("wax", "10 kg", 50), ("dye", "1 kg", 50)):
        books.receive(name, arrives, cost=cost)
    first = books.formula(
        "first blend", [("wax", "of_melt", 900_000), ("dye", "of_melt", 100_000)], pot_ug=grams(10_000)
    )
    second = books.formula(
        "second blend",
        [("wax", "of_melt", 900_000), ("first blend", "of_melt", 100_000)],
        pot_ug=grams(10_000),
    )
    for version in (first, second):
        set_work(books, version, [("weigh", 60, 0)])
    set_labour_rate(from_on=SPRING, person=None, per_hour=money(20), by=books.by, now=NOW)
    set_overhead_rate(from_on=SPRING, basis="of_labour", amount=500_000, by=books.by, now=NOW)

    sheet = standard_cost(second, units=grams(10_000), on=TODAY)

    assert told(sheet) == {"wax": money("54.5"), "labour": money(22), "overhead": money(11)}
    assert sheet.minutes == Fraction(66)
    assert sheet.missing == ()
