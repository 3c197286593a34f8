"""One item from the books to the last day to order and how much, every figure worked out by hand."""

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from fractions import Fraction
from types import SimpleNamespace

import pytest
from django.db import Error, transaction
from django.utils import timezone

from inventory.counting.figures import classes
from inventory.models import Item, Movement, OneOff, OrderLine, Posting, Supplier
from inventory.purchasing import ordering
from inventory.purchasing.ordering import OrderError
from inventory.replenishment import (
    at_a_glance,
    checks,
    facts,
    forecast_text,
    one_offs,
    purchase_list,
    rules,
    slow_stock,
)
from inventory.replenishment.outlooks import outlooks
from inventory.replenishment.purchase_list import Basket, Line, baskets, draft_orders
from inventory.replenishment.quantity import FREIGHT_IS_FREE, Limits, Option, PackOffer
from tests.house import NOW, TODAY, day, grams, money

pytestmark = pytest.mark.django_db

LONG_AGO = datetime(2025, 11, 1, 9, 0, tzinfo=UTC)


def draw_daily(lot, quantity, by, ago=range(40, 0, -1)):
    """So much drawn on each of the last forty days, or others, all at once, as the books would have written it."""
    postings = Posting.objects.bulk_create(
        Posting(kind="draw", happened_at=NOW - timedelta(days=back), recorded_at=NOW, by=by) for back in ago
    )
    worth = quantity * lot.value // lot.on_hand
    Movement.objects.bulk_create(
        Movement(posting=posting, lot=lot, kind="drawn", quantity=-quantity, value=-worth)
        for posting in postings
    )
    lot.on_hand -= len(ago) * quantity
    lot.value = lot.value * lot.on_hand // (lot.on_hand + len(ago) * quantity)
    lot.save(update_fields=["on_hand", "value"])


@pytest.fixture
def shelf(books):
    """10 kg of wax since November, and 100 g drawn on each of the last forty days: 6 kg left, worth 60.00."""
    lot = books.receive("wax", "10 kg", cost=100, at=LONG_AGO)
    draw_daily(lot, grams(100), books.by)
    return lot


def looking(window=40, **figures):
    """The outlook of everything by name, under rules that look back so far."""
    figures = {"order_cost": money(5), "window_days": window, **figures}
    now = rules.Rules(950_000, figures.pop("window_days"), 200_000, figures.pop("order_cost"), 120)
    found = outlooks(facts.read(TODAY, window=now.window_days), now)
    return {each.item.name: each for each in found.values()}


def test_use_is_what_was_drawn_by_day(shelf):
    wax = looking()["wax"]
    assert (wax.past.rate, wax.past.sd, wax.past.days) == (grams(100), 0, 40)
    # 6,000 g at 100 g a day are sixty days, of which today, on which nothing was used yet, is the first.
    assert (wax.cover, wax.runs_out) == (60, 59)


def test_what_was_used_today_is_not_expected_of_today_again(books, shelf):
    before = looking()["wax"]
    books.draw(shelf, "30 g", at=NOW)
    assert looking()["wax"].forecast.usual[:2] == [grams(70), grams(100)]
    books.draw(shelf, "70 g", at=NOW)
    after = looking()["wax"]
    assert after.forecast.usual[:2] == [0, grams(100)]
    # 5,900 g are left in the evening: the same day, and one day less from now.
    assert (after.runs_out, after.cover) == (before.runs_out, before.cover - 1)
    assert after.past.used == before.past.used


def test_draws_that_were_reversed_count_for_nothing(books, shelf):
    books.reverse(books.draw(shelf, "500 g", at=NOW - timedelta(days=3)))
    assert looking()["wax"].past.used == grams(4_000)


def test_what_is_left_out_as_one_off_is_no_usual_use_until_it_is_taken_back(books, shelf):
    posting = books.draw(shelf, "2 kg", at=NOW - timedelta(days=5))
    assert looking()["wax"].past.used == grams(6_000)

    one_offs.mark(posting.pk, one_off=True, signature=books.sign(reason="A wedding"))
    assert looking()["wax"].past.used == grams(4_000)

    one_offs.mark(posting.pk, one_off=False, signature=books.sign(reason="They come every month"))
    assert looking()["wax"].past.used == grams(6_000)
    assert OneOff.objects.count() == 2, "both stay on record"


@pytest.mark.parametrize(
    ("kind", "reason", "sentence"),
    [
        ("receipt", "A wedding", "Only a draw"),
        ("draw", " ", "Say why"),
        ("reversed", "A wedding", "was reversed"),
        ("twice", "A wedding", "already"),
    ],
)
def test_what_cannot_be_left_out(books, shelf, kind, reason, sentence):
    posting = books.draw(shelf, "1 g", at=NOW - timedelta(days=5))
    if kind == "receipt":
        posting = shelf.delivery_line.delivery.posting
    if kind == "reversed":
        books.reverse(posting)
    if kind == "twice":
        one_offs.mark(posting.pk, one_off=True, signature=books.sign(reason="First"))
    before = OneOff.objects.count()
    with pytest.raises(one_offs.OneOffError, match=sentence):
        one_offs.mark(posting.pk, one_off=True, signature=books.sign(reason=reason))
    assert OneOff.objects.count() == before


def test_the_record_of_one_offs_only_grows(books, shelf):
    posting = books.draw(shelf, "1 g", at=NOW - timedelta(days=5))
    one_offs.mark(posting.pk, one_off=True, signature=books.sign(reason="A wedding"))
    for change in (lambda: OneOff.objects.update(reason="x"), lambda: OneOff.objects.all().delete()):
        with pytest.raises(Error), transaction.atomic():
            change()


def test_lead_time_from_real_deliveries_and_what_follows_of_it(books, shelf):
    """Three orders that took 4, 8 and 12 days: 8 ± 4. Use 100 g a day without spread; 95 % is 1.6449.

    Safety 1.6449 × 100 g × 4 = 657.94 g; reorder point 800 + 657.94 = 1,457.94 g. 6 kg were left, 3 kg came: 9 kg. The
    level is below 657.94 g at the end of day 83 (600 g; 700 g the day before), today being day 0 and still to come, so
    the last day to order is day 75.
    """
    for sent in (16, 12, 8):
        order = books.order(("wax", 1, "1 kg"), sent=day(sent))
        books.bring(order, (0, "1 kg"))
    wax = looking()["wax"]

    assert (wax.lead.mean, wax.lead.sd, wax.lead.said) == (8, 4, "3 deliveries of it")
    assert (wax.keep, wax.point) == (657_941_451, 1_457_941_451)
    assert wax.order_in == 75
    assert wax.order_by == TODAY + timedelta(days=75)
    # 9,000 − 100 × 76 = 1,400 g, at the end of day 75, is the first level at or below 1,457.94 g.
    assert wax.crosses == 75
    assert wax.runs_out == 89


def test_use_in_lumps_is_kept_more_of_and_it_is_said_why(books):
    """900 g every tenth day of ninety and ten days of lead time: the point is 3,072 as the arithmetic's test works out, of
    which 900 are used meanwhile. 10 kg less 8,100 are below that, so an order is late."""
    lot = books.receive("wax", "10 kg", cost=100, at=LONG_AGO)
    draw_daily(lot, grams(900), books.by, range(10, 100, 10))
    Supplier.objects.update(lead_days=10)
    wax = looking(window=90)["wax"]

    assert wax.point / grams(1) == pytest.approx(3_072, abs=1)
    assert wax.keep == wax.point - grams(900)
    assert forecast_text.state_of(wax) == ("problem", "Order now, late")
    assert "Use comes in lumps, on 9 of 90 days" in forecast_text.lumps_words(wax)
    assert "by 450\xa0g on average" in forecast_text.lumps_words(wax)
    # On fixed days every ten: 1,800 ± 271.5 × √20; a ninth of its square is 0.0506, and 1.3194³ × 1,800 = 4,134.
    assert wax.up_to(10) / grams(1) == pytest.approx(4_134, abs=2)


def test_an_order_brings_the_stock_back_to_the_reorder_point_at_least(books, shelf):
    """100 g a day and six days of lead time make a point of 600 g. 6 kg are down to it on the evening of day 53. An order
    of the morning after comes on day 60, in whose evening 100 g are owed: it brings 700, or the next were late at once."""
    Supplier.objects.update(lead_days=6)
    wax = looking()["wax"]
    assert (wax.order_in, wax.arrives_in, wax.level_at(wax.arrives_in)) == (54, 60, grams(-100))
    assert (wax.point, wax.limits.least) == (grams(600), grams(700))


def test_an_items_own_service_level_comes_before_the_studios(books, shelf):
    shelf.item.service_ppm = 990_000
    shelf.item.save(update_fields=["service_ppm"])
    wax = looking()["wax"]
    assert wax.z == pytest.approx(2.3263, abs=1e-4)
    assert "own" in forecast_text.service_words(wax)


def test_a_planned_run_is_reckoned_with_and_never_twice(books, shelf):
    books.item("fragrance")
    version = books.candle()
    # 20 candles take 1,840 g of wax in ten days, in which 1,000 g would have been used anyhow.
    books.plan(version, 20, on=TODAY + timedelta(days=10))
    wax = looking()["wax"]
    assert wax.known.committed == grams(1_840)
    assert wax.forecast.through(10) == grams(1_840)
    assert wax.forecast.through(11) == grams(1_940)


def test_a_new_item_falls_back_on_what_is_planned_and_says_so(books):
    books.receive("wax", "1 kg", at=NOW)
    books.receive("fragrance", "10 g", at=NOW)
    Supplier.objects.update(lead_days=6)
    books.plan(books.candle(), 5, on=TODAY + timedelta(days=9))
    oil = looking()["fragrance"]
    # 40 g of oil in nine days, 10 g there: an order of day 3 comes in time.
    assert (oil.past.days, oil.runs_out, oil.order_in) == (0, 9, 3)
    assert oil.limits.least == grams(30)
    assert forecast_text.demand_words(oil) == ["It has no past yet: only what is planned and ordered counts."]
    # The only pack known is the 10 g that came; three of them cover the run, and are not too much.
    assert (oil.best.option.packs, oil.best.option.too_much) == (3, 0)


def test_where_there_is_little_to_go_by_no_more_than_three_months_are_bought(books):
    """Used twice in forty days, 100 g: 5 g a day. A hundred packs of 10 g for 1.00 would be the cheapest by far."""
    lot = books.receive("dye", "300 g", cost=3, at=LONG_AGO)
    for back in (30, 10):
        books.draw(lot, "100 g", at=NOW - timedelta(days=back))
    Supplier.objects.update(lead_days=3)
    books.offer("dye", "10 g", (1, 1), (100, "0.5"))
    dye = looking()["dye"]

    assert dye.past.is_little
    assert dye.limits.most == dye.limits.least + 91 * grams(5)
    assert (dye.best.option.quantity, dye.limits.because) == (
        dye.limits.most // grams(10) * grams(10),
        "three months' use, as there is little to go by",
    )


def test_where_the_proposed_order_comes_too_late_another_supplier_may_bring_it_sooner(books, shelf):
    """300 g last three days; the cheap one takes ten days, the dear one two."""
    books.draw(shelf, "5700 g", at=NOW - timedelta(days=50))
    Supplier.objects.update(lead_days=10)
    books.offer("wax", "1 kg", (1, 10))
    books.offer("wax", "1 kg", (1, 30), supplier=Supplier.objects.create(name="Express Lane", lead_days=2))
    wax = looking()["wax"]

    assert (wax.runs_out, wax.best.source.supplier.name, wax.best.too_late) == (
        2,
        "Tollgate Wax and Wick",
        True,
    )
    assert wax.best.there_on == TODAY + timedelta(days=10)
    assert (wax.sooner.source.supplier.name, wax.sooner.too_late) == ("Express Lane", False)


def test_filling_up_on_fixed_days_counts_a_plan_once(books, shelf):
    """Every 14 days, a delivery takes 6: 100 g a day without spread make 2,000 g. A run of 920 g is part of that; one of
    4,600 g in ten days takes the place of the 1,100 g of eleven days and is 3,500 g beyond."""
    Supplier.objects.update(lead_days=6)
    assert looking()["wax"].up_to(14) == grams(2_000)
    books.item("fragrance")
    version = books.candle()
    run = books.plan(version, 10, on=TODAY + timedelta(days=10))
    assert looking()["wax"].up_to(14) == grams(2_000)
    books.plan(version, 40, on=run.planned_on)
    assert looking()["wax"].up_to(14) == grams(2_000 + 3_500)


def test_an_order_that_is_late_and_waited_for_is_said(books):
    """Ten candles a day for four days would take more than the 920 g that are there; the order is three days late."""
    books.receive("wax", "920 g", at=NOW)
    books.receive("fragrance", "10 kg", at=NOW)
    Supplier.objects.update(lead_days=6)
    books.order(("wax", 1, "50 kg"), sent=day(10), expected=date(2026, 3, 17))
    books.plan(books.candle(), 20, on=TODAY + timedelta(days=2))
    wax = looking()["wax"]

    assert forecast_text.state_of(wax) == ("problem", "Delivery late")
    assert "should have brought 50,000\xa0g on 17 Mar 2026. Ask the supplier." in forecast_text.why(wax)
    assert forecast_text.by_urgency(looking().values())[0].item.name == "wax"


def test_what_is_on_order_is_reckoned_with_on_its_day_and_what_is_late_tomorrow(books, shelf):
    books.order(("wax", 1, "1 kg"), sent=day(10), expected=date(2026, 3, 25))
    books.order(("wax", 1, "2 kg"), sent=day(10), expected=date(2026, 3, 17))
    assert looking()["wax"].coming == {5: grams(1_000), 1: grams(2_000)}


def test_an_order_without_a_day_comes_by_the_lead_time_or_is_not_reckoned_with(books, shelf):
    order = books.order(("wax", 1, "1 kg"), sent=day(18))
    assert order.expected_on is None
    assert looking()["wax"].coming == {}
    Supplier.objects.update(lead_days=6)
    assert looking()["wax"].coming == {4: grams(1_000)}


def test_lots_on_hold_or_expired_are_not_there_and_what_expires_goes_off(books, shelf):
    Supplier.objects.update(lead_days=2)
    books.receive("wax", "3 kg", at=NOW - timedelta(days=1), expires_on=TODAY - timedelta(days=1))
    books.receive("wax", "1 kg", at=NOW - timedelta(days=1), expires_on=TODAY + timedelta(days=4))
    wax = looking()["wax"]
    # 100 g a day from the 20th to the 24th: 500 g of the kilogram are used, 500 g go off on day 5.
    assert wax.known.usable == grams(7_000)
    assert wax.levels.expired[5] == grams(500)
    assert wax.goes_off == [(TODAY + timedelta(days=4), grams(500))]


def test_how_much_is_bounded_by_shelf_life_and_room(books, shelf):
    Supplier.objects.update(lead_days=6)
    books.offer("wax", "1 kg", (1, 10), (20, 5))
    wax = looking()["wax"]
    # 36.5 kg a year in kilograms at 10.00, or 5.00 from 20 on: √(2 × 36.5 × 5 ÷ (0.2 × 5)) = 19.1, so 20.
    assert (wax.best.option.packs, wax.best.option.why_so_many) == (20, "the price from 20 packs on")
    assert wax.best.option.yearly == money("182.5") + money("9.125") + money(10)

    item = shelf.item
    item.shelf_life_days = 90
    item.save(update_fields=["shelf_life_days"])
    # It arrives as the old runs out; 90 days use 9 kg.
    wax = looking()["wax"]
    assert (wax.best.option.packs, wax.limits.because) == (9, "as much as will be used before it expires")

    item.room_for = grams(4_000)
    item.save(update_fields=["room_for"])
    assert looking()["wax"].best.option.packs == 4


def test_the_supplier_who_is_cheapest_by_the_year_gives_the_lead_time(books, shelf):
    Supplier.objects.update(lead_days=6)
    other = Supplier.objects.create(name="Example Lane Waxes", lead_days=15)
    books.offer("wax", "1 kg", (1, 10))
    books.offer("wax", "5 kg", (1, 40), supplier=other)
    wax = looking()["wax"]
    assert (wax.source.supplier, wax.lead.days) == (other, 15)
    assert [choice.source.supplier.name for choice in wax.choices] == [
        "Example Lane Waxes",
        "Tollgate Wax and Wick",
    ]


def test_the_dates_are_reckoned_with_whom_the_proposed_order_is_of(books, shelf):
    """By the year 20 kg for 100.00 are the cheapest, but 90 days use 9 kg: what is proposed is of the other supplier,
    who takes 25 days for it and not 6. 6 kg last until day 59: the last day to order is 60 − 25."""
    Supplier.objects.update(lead_days=6)
    slow_one = Supplier.objects.create(name="Example Lane Waxes", lead_days=25)
    books.offer("wax", "20 kg", (1, 100))
    books.offer("wax", "1 kg", (1, 10), supplier=slow_one)
    assert looking()["wax"].source.typed_pack == "20 kg"

    Item.objects.filter(pk=shelf.item_id).update(shelf_life_days=90)
    wax = looking()["wax"]
    assert (wax.best.source.supplier, wax.source.supplier, wax.lead.days) == (slow_one, slow_one, 25)
    assert wax.order_in == 60 - 25


def test_a_delivery_that_takes_longer_than_is_looked_ahead_is_ordered_in_time(books, shelf):
    Supplier.objects.update(lead_days=150)
    wax = looking()["wax"]
    # It is wanted on day 60.
    assert wax.order_in == 60 - 150
    assert forecast_text.group_of(wax) == "due"


def test_without_an_offer_it_is_the_pack_that_came_last_and_it_says_so(books, shelf):
    wax = looking()["wax"]
    assert (wax.source.typed_pack, wax.source.offer_id) == ("10 kg", None)
    sentences = " ".join(each.sentence for each in forecast_text.missing_of(wax))
    assert "states no lead time" in sentences
    assert "No offer is on record" in sentences
    assert forecast_text.state_of(wax) == ("attention", "No lead time")
    assert wax.order_in is None


def test_what_is_missing_is_named_with_what_it_blocks(books):
    books.receive("fragrance", "10 g", at=NOW)
    books.item("wax")
    books.plan(books.candle(), 5, on=TODAY + timedelta(days=9))
    wax = looking(order_cost=None)["wax"]
    assert [each.press for each in forecast_text.missing_of(wax)] == ["Enter an offer", "Set the rules"]


def test_what_is_no_longer_bought_hands_its_use_to_what_takes_its_place(books, shelf):
    new = books.item("New wax", kind="wax")
    item = shelf.item
    item.no_longer_bought, item.replaced_by = True, new
    item.save(update_fields=["no_longer_bought", "replaced_by"])
    found = looking()
    old, new_one = found["wax"], found["New wax"]

    assert (old.order_in, old.choices, forecast_text.state_of(old)[1]) == (None, [], "No longer bought")
    assert "New wax takes its place" in forecast_text.why(old)
    # The old one runs out on day 59; from then on 100 g a day are used of the new one.
    assert new_one.forecast.through(58) == 0
    assert new_one.forecast.through(68) == grams(1_000)
    assert (new_one.runs_out, new_one.cover) == (58, 58)


def test_what_takes_the_place_of_another_needs_its_safety_stock_only_from_then_on(books, shelf):
    """The old one lasts sixty days. A delivery of the new one takes five; both together spread as the old one did."""
    books.draw(shelf, "1 kg", at=NOW - timedelta(days=3))
    new = books.item("New wax", kind="wax")
    Supplier.objects.update(lead_days=5)
    books.offer("New wax", "1 kg", (1, 10))
    Item.objects.filter(pk=shelf.item_id).update(no_longer_bought=True, replaced_by=new)
    found = looking()
    old, new_one = found["wax"], found["New wax"]

    assert new_one.keep > 0
    assert new_one.then[0] == old.runs_out
    assert new_one.order_in == old.runs_out - 5


def test_what_can_take_its_place_is_said_with_how_much_of_it_is_to_spare(books, shelf):
    """300 g last three days. Of the other kind 2 kg are there, of which a run of tomorrow takes 500 g: 1,500 g to spare."""
    books.draw(shelf, "5700 g", at=NOW - timedelta(days=50))
    Supplier.objects.update(lead_days=4)
    other = books.receive("Spare wax", "2 kg", at=NOW).item
    Item.objects.filter(pk=other.pk).update(kind="wax")
    Item.objects.filter(pk=shelf.item_id).update(replaced_by=other)
    books.item("wick")
    books.plan(
        books.formula("Plain", [("Spare wax", "wax_share", 1_000_000)], fill="100 g"),
        5,
        on=TODAY + timedelta(days=1),
    )
    wax = looking()["wax"]

    assert wax.other.to_spare == grams(1_500)
    assert forecast_text.stand_in(wax) == (
        "Spare wax can take its place: 1,500\xa0g of it is to spare, enough for 15 days at this use."
    )
    # One item looked at by itself knows it too, and what is still bought hands nothing on.
    rules_now = rules.Rules(950_000, 40, 200_000, money(5), 120)
    alone = outlooks(facts.read(TODAY, window=40, item_ids=[shelf.item_id]), rules_now)[shelf.item_id]
    assert forecast_text.stand_in(alone) == forecast_text.stand_in(wax)
    assert looking()["Spare wax"].then is None
    books.receive("wax", "50 kg", at=NOW)
    assert forecast_text.stand_in(looking()["wax"]) == ""


def test_what_is_made_here_is_not_bought(books):
    books.item("Lane blend", kind="wax", made_here=True)
    blend = looking()["Lane blend"]
    assert (blend.is_bought, forecast_text.group_of(blend), forecast_text.missing_of(blend)) == (
        False,
        "made",
        [],
    )


def test_a_few_items_give_the_same_as_all(books, shelf):
    books.offer("wax", "1 kg", (1, 10))
    glance = at_a_glance.of([shelf.item_id], TODAY)[shelf.item_id]
    assert (glance.lasts, glance.word) == (
        forecast_text.cover_words(looking(window=90)["wax"]),
        "No lead time",
    )


@pytest.mark.parametrize("zone", ["UTC", "America/Los_Angeles", "Asia/Kolkata", "Pacific/Auckland"])
def test_use_falls_on_the_day_of_the_studios_clock(books, zone):
    """Draws around midnight, on both sides of a change of the clocks in Los Angeles (8 March 2026)."""
    lot = books.receive("wax", "10 kg", at=LONG_AGO)
    moments = [
        datetime(2026, 3, of, hour, 59, 59, tzinfo=UTC) for of in (7, 8, 9) for hour in (6, 7, 10, 18, 23)
    ]
    for moment in moments:
        books.draw(lot, "1 g", at=moment)
    with timezone.override(zone):
        found = facts.read(TODAY, window=40).of[lot.item_id].used
        days = Counter(timezone.localtime(moment).date().toordinal() for moment in moments)
    assert found == {day: grams(number) for day, number in days.items()}


def test_freight_is_shared_over_as_many_items_as_orders_of_the_supplier_had(books, shelf):
    books.item("wick")
    for lines in ((("wax", 1, "1 kg"), ("wick", 1, 100)), (("wax", 1, "1 kg"),)):
        order = books.order(*lines, sent=day(16))
        books.bring(order, *[(place, line[2]) for place, line in enumerate(lines)])
    Supplier.objects.update(freight_per_order=money(15))
    # Three items on two orders: 15.00 × 2 ÷ 3.
    assert looking()["wax"].source.quoted.freight == money(10)


# Slow stock


def test_what_sleeps_is_told_with_what_it_is_worth(books, shelf):
    books.receive("dye", "50 g", cost=20, at=LONG_AGO)
    books.receive("wax", "50 kg", cost=500, at=LONG_AGO)
    rows = slow_stock.asleep(looking().values(), classes(TODAY))
    told = {row.outlook.item.name: row for row in rows}

    assert (told["dye"].words[1], told["dye"].surplus_value) == ("Not used", money(20))
    # 56 kg for 560.00, of which a year uses 36.5: 19.5 kg too much, 195.00.
    assert (told["wax"].words[1], told["wax"].surplus) == ("Over a year's cover", grams(19_500))
    assert told["wax"].surplus_value == money(195)
    assert told["wax"].letter == "A"


# The purchase list


@pytest.fixture
def due(books, shelf):
    """Wax of which 200 g are left, from a supplier who takes two days; 1 kg for 10.00."""
    Supplier.objects.update(lead_days=2)
    books.offer("wax", "1 kg", (1, 10))
    books.draw(shelf, "5800 g")
    return shelf.item


def listed(**figures):
    now = rules.Rules(950_000, 40, 200_000, money(5), 120)
    return baskets(looking(**figures).values(), now)


def test_what_is_due_stands_under_its_supplier(books, due):
    (basket,) = listed()
    (line,) = basket.lines
    assert (basket.supplier.name, line.item, line.taken) == ("Tollgate Wax and Wick", due, True)
    assert basket.goods == line.choice.option.goods


def test_what_is_due_and_too_much_even_in_its_smallest_order_is_listed_and_left_to_who_orders(books, due):
    """Room for half a kilogram, and one kilogram is the smallest pack: 500 g too much."""
    Item.objects.filter(pk=due.pk).update(room_for=grams(500))
    (basket,) = listed()
    (line,) = basket.lines
    assert (line.item, line.taken, line.is_due) == (due, False, True)
    assert line.because == "the smallest order is 500\xa0g more than there is room for: for you to decide"

    # Nor is it taken to reach the least.
    Supplier.objects.update(minimum_order=money(5))
    assert [line.taken for line in listed()[0].lines] == [False]


def test_what_runs_out_with_no_lead_time_is_said(books, shelf):
    """6 kg last sixty days; 2 kg twenty."""
    assert not forecast_text.cannot_be_said(looking()["wax"])
    books.draw(shelf, "4 kg", at=NOW - timedelta(days=50))
    assert forecast_text.cannot_be_said(looking()["wax"])
    due, unclear = at_a_glance.to_order(TODAY)
    assert (due, [each.item.name for each in unclear]) == ([], ["wax"])


def second(books, days_left, *, cost=20):
    """Wicks, one a day, that last so many days; a pack of a hundred."""
    lot = books.receive("wick", 40 + days_left, cost=1, at=LONG_AGO)
    draw_daily(lot, 1, books.by)
    books.offer("wick", 100, (1, cost))
    Supplier.objects.update(lead_days=2)


def test_an_order_below_the_least_is_filled_up_with_what_is_needed_next(books, due):
    second(books, 60)
    assert [line.item.name for line in listed()[0].lines if line.taken] == ["wax"]

    goods = listed()[0].goods
    Supplier.objects.update(minimum_order=goods + money(1))
    (basket,) = listed()
    assert [(line.item.name, line.because) for line in basket.topped_up] == [
        ("wick", "to reach the least the supplier takes")
    ]
    assert basket.to_minimum == 0


def test_what_waits_for_a_late_order_is_not_what_an_order_is_filled_up_with(books, due):
    """Five grams of a dye are left and ninety should have come: it stands first among the items, but once they come it is
    needed a month after the wicks."""
    second(books, 60)
    lot = books.receive("dye", "45 g", cost=5, at=LONG_AGO)
    draw_daily(lot, grams(1), books.by)
    books.order(("dye", 1, "90 g"), sent=day(10), expected=date(2026, 3, 17))
    books.offer("dye", "90 g", (1, 30))
    Supplier.objects.update(lead_days=10, minimum_order=listed()[0].goods + money(1))

    (basket,) = listed()
    assert [(line.item.name, line.because) for line in basket.topped_up] == [
        ("wick", "to reach the least the supplier takes")
    ]


def test_free_freight_is_reached_where_keeping_the_goods_costs_less_than_the_freight(books, due):
    """Four packs of wax fit, 40.00. Three packs of wicks, 60.00, are needed 59 days later.

    √(2 × 365 × 5 ÷ (0.2 × 0.20)) = 302 wicks; keeping them costs 20 % × 60.00 × 59 ÷ 365 = 1.94.
    """
    second(books, 60)
    Item.objects.filter(pk=due.pk).update(room_for=grams(4_000))
    Supplier.objects.update(freight_per_order=money("1.90"), free_freight_from=money(41))
    (basket,) = listed()
    assert (basket.goods, basket.topped_up, basket.freight) == (money(40), [], money("1.90"))

    Supplier.objects.update(freight_per_order=money("2"))
    (basket,) = listed()
    assert [(line.item.name, line.because) for line in basket.topped_up] == [
        ("wick", "so that freight is free")
    ]
    assert (basket.goods, basket.freight) == (money(100), 0)


def in_basket(packs, pack, price, why, *, taken=True, least=0):
    """A line of a purchase list: packs of so many pieces at a price, of which `least` pieces must come."""
    quoted = PackOffer(1, pack, 1, ((1, money(price)),))
    option = Option(1, packs, pack, money(price), 0, None, None, None, why)
    source = SimpleNamespace(quoted=quoted)
    return Line(SimpleNamespace(limits=Limits(least)), SimpleNamespace(option=option, source=source), taken)


def test_the_list_says_where_fewer_packs_reach_free_freight_with_the_rest():
    """Free from 900.00: 18 packs of jars at 50.00 by themselves; beside 450.00 of wicks 9 will do."""
    supplier = Supplier(free_freight_from=money(900), freight_per_order=money(54))
    jars, wicks = in_basket(18, 48, 50, FREIGHT_IS_FREE), in_basket(18, 250, 25, "the cheapest")
    assert Basket(supplier, [jars, wicks]).enough_of(jars) == 9
    assert Basket(supplier, [jars, wicks]).enough_of(wicks) is None
    # 500 must come, eleven packs of 48 at least.
    needed = in_basket(18, 48, 50, FREIGHT_IS_FREE, least=500)
    assert Basket(supplier, [needed, wicks]).enough_of(needed) == 11
    # By itself it takes them all, and so it does where somebody typed another number.
    assert Basket(supplier, [jars]).enough_of(jars) is None
    assert Basket(supplier, [jars, replace(wicks, taken=False)]).enough_of(jars) is None
    assert Basket(supplier, [replace(jars, asked=17), wicks]).enough_of(replace(jars, asked=17)) is None


def chosen(basket, **packs):
    return {line.key: packs.get(line.item.name, line.choice.option.packs) for line in basket.lines}


def drafted(wanted, books):
    now = rules.Rules(950_000, 40, 200_000, money(5), 120)
    return draft_orders(wanted, rules=now, signature=books.sign())


def test_one_press_drafts_an_order_of_each_supplier(books, due):
    (basket,) = listed()
    (order,) = drafted(chosen(basket, wax=3), books)
    line = order.lines.get()
    assert (order.supplier.name, order.state, line.item, line.packs) == (
        "Tollgate Wax and Wick",
        "draft",
        due,
        3,
    )
    assert (line.price, line.offer.typed_pack) == (money(10), "1 kg")
    assert listed() == [], "what is on a draft is not listed again"


@pytest.mark.parametrize("wrong", ["nothing", "twice", "gone", "too few", "unknown"])
def test_what_cannot_be_drafted_is_refused_and_nothing_is_written(books, due, wrong):
    (basket,) = listed()
    wanted = chosen(basket)
    if wrong == "nothing":
        wanted = dict.fromkeys(wanted, 0)
    if wrong == "twice":
        drafted(wanted, books)
    if wrong == "gone":
        books.offer("wax", "1 kg", (1, 11), on=TODAY)
    if wrong == "too few":
        books.offer("wax", "2 kg", (4, 18), minimum_packs=4)
        wanted = {f"{due.pk}:{due.offers.latest('pk').pk}": 3}
    if wrong == "unknown":
        wanted = {"999999:1": 1}
    before = OrderLine.objects.count()
    with pytest.raises(OrderError):
        drafted(wanted, books)
    assert OrderLine.objects.count() == before


def test_a_draft_called_off_puts_its_items_back_on_the_list(books, due):
    (order,) = drafted(chosen(listed()[0]), books)
    ordering.call_off(order.pk, signature=books.sign(reason="Too early"))
    assert [line.item for line in listed()[0].lines] == [due]


def test_the_rules_are_the_usual_ones_until_somebody_sets_them(books):
    assert rules.in_force() == rules.Rules(950_000, 90, 200_000, None, 120)
    rules.set_rules({"order_cost": money(8), "service_ppm": 980_000}, signature=books.sign())
    found = rules.in_force()
    assert (found.service_ppm, found.order_cost, found.own) == (980_000, money(8), True)
    assert found.trying(window_days=30).window_days == 30


def test_keeping_goods_early_costs_its_share_of_a_year(books, due):
    # Without spread 200 g last two days and a delivery takes two: order tomorrow, a day early today.
    (line,) = listed()[0].lines
    assert line.outlook.order_in == 1
    assert purchase_list.keeping_cost(line, 200_000) == Fraction(line.choice.option.goods, 5 * 365)


def test_the_check_of_the_books_notices_a_one_off_that_is_none_and_one_said_twice(books, shelf):
    assert list(checks.one_offs_are_uses()) == []
    receipt = shelf.delivery_line.delivery.posting
    draw = books.draw(shelf, "1 g")
    for posting in (receipt, draw, draw):
        OneOff.objects.create(posting=posting, is_one_off=True, reason="x", by=books.by, at=NOW)
    assert len(list(checks.one_offs_are_uses())) == 2


def test_the_check_of_the_books_notices_an_item_that_takes_its_own_place(books):
    first, second = books.item("First", kind="wax"), books.item("Second", kind="wax")
    Item.objects.filter(pk=first.pk).update(replaced_by=second)
    assert list(checks.replacements_end()) == []
    Item.objects.filter(pk=second.pk).update(replaced_by=first)
    assert len(list(checks.replacements_end())) == 2
