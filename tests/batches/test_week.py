"""The week's plan: the shelf after each run, what falls short first, and the days."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from batches.planning.week import monday, week_of
from batches.planning.week_projection import Event, Step, first_short, project
from tests.house import TODAY, day, grams

MONDAY = date(2026, 3, 16)  # of the week of TODAY, a Friday
SATURDAY, SUNDAY = date(2026, 3, 21), date(2026, 3, 22)
CEDAR = "Cedar & Black Tea"


def event(on, step, quantity, turn=0):
    return Event(on, step, "", quantity, turn)


# The projection


def test_a_material_plan_leaves_what_the_book_says():
    """Needs 4,160, 3,680, 5,760 and 8,960 lb, bought 4,896, 4,096, 6,400 and 9,600 lb, opening with nothing.

    OpenStax, Principles of Accounting 2, section 7.2: closing stock is a fifth of the next quarter's need, so 736, 1,152,
    1,792 and, before 3,800 units of 3.2 lb, 2,432 lb. Exact. (Its caption misprints the first purchase as 4,876.)
    """
    quarters = [date(2026, month, 1) for month in (1, 4, 7, 10)]
    bought, needed = (4_896, 4_096, 6_400, 9_600), (4_160, 3_680, 5_760, 8_960)
    comes = [event(on, Step.COMES, each) for on, each in zip(quarters, bought, strict=True)]
    needs = [event(on, Step.NEEDED, each) for on, each in zip(quarters, needed, strict=True)]

    rows = project(0, [*needs, *comes])

    assert [row.level for row in rows if row.event.step is Step.NEEDED] == [736, 1_152, 1_792, 2_432]
    assert first_short(rows) is None
    assert 2_432 * 5 == 3_800 * 32 // 10
    # As the caption misprints it, the first closing stock would be another.
    misprinted = project(0, [event(quarters[0], Step.COMES, 4_876), needs[0]])
    assert misprinted[-1].level == 716


def test_each_run_is_short_by_its_own_need():
    """100 there; 60, 60 and 30 needed on three days: 40 left, 20 missing, 30 more missing."""
    days = [TODAY + timedelta(days=each) for each in range(3)]
    rows = project(100, [event(on, Step.NEEDED, each) for on, each in zip(days, (60, 60, 30), strict=True)])
    assert [(row.level, row.short) for row in rows] == [(40, 0), (-20, 20), (-50, 30)]
    assert first_short(rows) is rows[1]


def test_within_a_day_what_comes_in_counts_first():
    rows = project(
        0,
        [event(TODAY, Step.NEEDED, 50), event(TODAY, Step.MADE, 20), event(TODAY, Step.COMES, 30)],
    )
    assert [(row.event.step, row.level) for row in rows] == [(0, 30), (1, 50), (2, 0)]


def test_a_delivery_lessens_what_is_missing_for_the_next():
    """10 there, 30 needed: 20 missing; 15 come; 10 needed more, all of it missing: 10 of the 15 short."""
    later = TODAY + timedelta(days=1)
    rows = project(
        10,
        [event(TODAY, Step.NEEDED, 30), event(later, Step.COMES, 15), event(later, Step.NEEDED, 10)],
    )
    assert [(row.level, row.short) for row in rows] == [(-20, 20), (-5, 0), (-15, 10)]


# The week


@pytest.fixture
def shelf(books):
    """2 kg of wax, 1 kg of fragrance, 100 wicks and vessels."""
    return {
        "wax": books.receive("wax", "2 kg"),
        "fragrance": books.receive("fragrance", "1 kg"),
        "wick": books.receive("wick", 100),
        "vessel": books.receive("vessel", 100),
    }


def rows_of(week, name="wax"):
    material = next(each for each in week.materials if each.item.name == name)
    return material, [(row.after.event.on, row.after.event.change, row.after.level) for row in material.rows]


@pytest.mark.django_db
def test_the_shelf_is_projected_over_the_runs_in_the_order_of_their_days(books, shelf):
    """2,000 g of wax: 920 g for ten today, 1,380 g for fifteen on Saturday with 500 g coming, 460 g on Sunday short."""
    version = books.candle()
    books.plan(version, 5, on=SUNDAY)
    books.plan(version, 15, on=SATURDAY)
    books.plan(version, 10, on=TODAY)
    books.order(("wax", 1, "500 g"), sent=day(16), expected=SATURDAY)

    week = week_of(MONDAY, today=TODAY)
    material, rows = rows_of(week)

    assert material.opening == grams(2000)
    assert rows == [
        (TODAY, -grams(920), grams(1080)),
        (SATURDAY, grams(500), grams(1580)),
        (SATURDAY, -grams(1380), grams(200)),
        (SUNDAY, -grams(460), -grams(260)),
    ]
    assert (material.short.after.short, material.short.batch.quantity) == (grams(260), 5)
    assert week.materials[0] is material
    # Nothing beyond what is counted on is on order; the supplier is known, its lead time is not.
    assert material.short.advice.missing.quantity == grams(260) + grams(500)
    assert "no lead time is on record" in material.short.advice.words


@pytest.mark.django_db
def test_a_run_in_progress_needs_what_is_not_drawn_yet_and_a_late_one_counts_today(books, shelf):
    version = books.candle()
    batch = books.plan(version, 10, on=date(2026, 3, 12))
    books.draw_into(batch, (shelf["wax"], "500 g"))

    week = week_of(MONDAY, today=TODAY)

    assert week.late.runs == [batch]
    assert rows_of(week) == (rows_of(week)[0], [(TODAY, -grams(420), grams(1080))])


@pytest.mark.django_db
def test_a_blend_planned_before_it_is_used_counts_as_made(books, shelf):
    """600 g of blend planned for the day on which 500 g are used: 100 g left; the wax under it goes down by 600 g."""
    books.item("Lane blend", kind="wax", made_here=True)
    blend = books.formula("Lane blend", [("wax", "wax_share", 1_000_000)])
    candle = books.formula(CEDAR, [("Lane blend", "wax_share", 1_000_000)], fill="100 g")
    books.plan(candle, 5, on=SATURDAY)
    books.plan(blend, grams(600), on=SATURDAY)

    week = week_of(MONDAY, today=TODAY)

    assert rows_of(week, "Lane blend")[1] == [
        (SATURDAY, grams(600), grams(600)),
        (SATURDAY, -grams(500), grams(100)),
    ]
    assert rows_of(week)[1] == [(SATURDAY, -grams(600), grams(1400))]


@pytest.mark.django_db
def test_the_week_after_begins_with_what_this_week_leaves(books, shelf):
    version = books.candle()
    books.plan(version, 10, on=SATURDAY)
    books.plan(version, 10, on=date(2026, 3, 24))

    week = week_of(date(2026, 3, 23), today=TODAY)
    material, rows = rows_of(week)

    assert material.opening == grams(1080)
    assert rows == [(date(2026, 3, 24), -grams(920), grams(160))]


@pytest.mark.django_db
def test_a_week_that_is_over_shows_its_runs_and_projects_nothing(books, shelf):
    books.plan(books.candle(), 10, on=date(2026, 3, 10))
    week = week_of(date(2026, 3, 9), today=TODAY)
    assert [len(each.runs) for each in week.days] == [0, 1, 0, 0, 0, 0, 0]
    assert week.materials == ()
    assert week.late.is_empty


@pytest.mark.django_db
def test_days_show_orders_due_and_deliveries_expected(books, shelf):
    books.candle()
    due = books.order_of("Moor & Mill", (CEDAR, 24), on=SATURDAY)
    late = books.order_of("Harbour Hall", (CEDAR, 3), on=date(2026, 3, 13))
    coming = books.order(("wax", 1, "500 g"), sent=day(16), expected=SUNDAY)
    overdue = books.order(("wax", 1, "500 g"), sent=day(3), expected=date(2026, 3, 12))

    week = week_of(MONDAY, today=TODAY)

    by_day = {each.on: each for each in week.days}
    assert [order for order, _ in by_day[SATURDAY].due] == [due]
    assert by_day[SUNDAY].deliveries == [coming]
    assert ([order for order, _ in week.late.due], week.late.deliveries) == ([late], [overdue])


@pytest.mark.django_db
def test_what_expires_within_the_week_is_said(books, shelf):
    books.receive("wax", "300 g", expires_on=SATURDAY)
    books.plan(books.candle(), 5, on=SUNDAY)
    assert rows_of(week_of(MONDAY, today=TODAY))[0].expiring == grams(300)


@pytest.mark.django_db
def test_twice_the_runs_take_the_same_queries(books, shelf):
    def more(numbers):
        for number in numbers:
            version = books.candle(name=f"Candle {number}")
            order = books.order_of("Moor & Mill", (f"Candle {number}", 24), on=SATURDAY)
            books.plan(version, 40, on=SATURDAY, order=order)
            books.order(("wax", 1, "500 g"), sent=day(16), expected=SUNDAY)

    def asked():
        with CaptureQueriesContext(connection) as queries:
            week_of(MONDAY, today=TODAY)
        return len(queries)

    more(range(2))
    before = asked()
    more(range(2, 6))
    assert asked() == before


def test_a_week_begins_on_its_monday():
    assert monday(TODAY) == MONDAY
    assert monday(MONDAY) == MONDAY
    assert monday(SUNDAY) == MONDAY
