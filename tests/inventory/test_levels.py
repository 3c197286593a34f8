"""An item's level day by day, and its ledger with what was there after each line; figures worked out by hand."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.db.models import Q
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.item_pages.history import Line, first_of, level_plot, price_plot
from inventory.items import ledger_lines, levels
from inventory.items.levels import Day
from inventory.items.prices import PricePoint, price_points
from inventory.models import Movement
from studio.web import plots
from tests.house import ARRIVED, TODAY, day, grams, money

pytestmark = pytest.mark.django_db

FIRST = date(2026, 3, 1)


@pytest.fixture
def wax(books):
    """10 kg on 1 March, 1 kg drawn on the 5th and again on the 6th, 2 kg more on the 10th, 500 g drawn that day."""
    lot = books.receive("wax", "10 kg", cost=60)
    books.draw(lot, "1 kg", at=day(5))
    books.draw(lot, "1 kg", at=day(6))
    books.receive("wax", "2 kg", cost=13, at=day(10))
    books.draw(lot, "500 g", at=day(10, 15))
    return lot


def past(lot, first=FIRST, last=TODAY, on_hand="9500"):
    return levels.history(
        lot.item, grams(on_hand) if lot.item.unit == "g" else int(on_hand), first=first, last=last
    )


def test_the_level_at_the_end_of_each_day_on_which_it_moved(wax):
    # 9.5 kg now; backwards + 0.5 - 2 + 1 + 1 = 10, and - 10 = nothing before.
    assert past(wax).opening == 0
    assert past(wax).days == (
        Day(date(2026, 3, 1), grams(10_000), 0, grams(10_000)),
        Day(date(2026, 3, 5), 0, grams(1_000), grams(9_000)),
        Day(date(2026, 3, 6), 0, grams(1_000), grams(8_000)),
        Day(date(2026, 3, 10), grams(2_000), grams(500), grams(9_500)),
    )


def test_a_shorter_look_back_begins_with_what_was_there_then(wax):
    found = past(wax, first=date(2026, 3, 6))

    assert found.opening == grams(9_000)
    assert [(each.on.day, each.level) for each in found.days] == [(6, grams(8_000)), (10, grams(9_500))]


def test_what_was_reversed_or_poured_into_another_container_moved_nothing(books, wax):
    wrong = books.draw(wax, "3 kg", at=day(12))
    books.reverse(wrong)
    books.decant((wax, "1 kg"), jars=("400 g", "600 g"), at=day(14))

    assert [each.on.day for each in past(wax).days] == [1, 5, 6, 10]


def test_a_day_is_the_studios_day(books):
    lot = books.receive("wax", "1 kg", cost=6)
    # 23:30 in London in winter is 08:30 the next day in Tokyo.
    books.draw(lot, "100 g", at=datetime(2026, 3, 5, 23, 30, tzinfo=UTC))

    with timezone.override("Asia/Tokyo"):
        found = past(lot, on_hand="900")

    assert [each.on for each in found.days] == [date(2026, 3, 1), date(2026, 3, 6)]


def test_the_level_takes_one_query_however_much_moved(books, wax):
    with CaptureQueriesContext(connection) as few:
        past(wax)
    for number in range(20):
        books.draw(wax, "1 g", at=day(1 + number % 18, 11))
    with CaptureQueriesContext(connection) as many:
        past(wax, on_hand="9480")
    assert (len(few), len(many)) == (1, 1)


def test_how_far_back_a_plot_reaches(books, wax):
    assert first_of("90", wax.item, TODAY) == TODAY - timedelta(days=89)
    assert first_of("year", wax.item, TODAY) == date(2025, 3, 21)
    assert first_of("all", wax.item, TODAY) == FIRST
    assert first_of("all", books.item("dye"), TODAY) == TODAY


def test_days_are_told_together_from_the_first(wax):
    found = past(wax)

    assert levels.periods(found, 1)[1] == (date(2026, 3, 5), date(2026, 3, 5), 0, grams(1_000), grams(9_000))
    assert levels.periods(found, 7) == [
        (date(2026, 3, 1), date(2026, 3, 7), grams(10_000), grams(2_000), grams(8_000)),
        (date(2026, 3, 8), date(2026, 3, 14), grams(2_000), grams(500), grams(9_500)),
    ]
    # The last is cut off at the last day.
    assert levels.periods(past(wax, last=date(2026, 3, 12)), 7)[-1][:2] == (
        date(2026, 3, 8),
        date(2026, 3, 12),
    )


def test_the_plot_of_a_level(wax):
    """1 to 20 March are 19 days in 600 units; 0 to 10 kg are 276 units in steps of 2 kg, from 300 up to 24."""
    plot = level_plot(wax.item, past(wax))

    assert [(tick.label, tick.at) for tick in plot.up] == [
        ("0", 300),
        ("2,000", 245),  # 244.8
        ("4,000", 190),  # 189.6
        ("6,000", 134),  # 134.4
        ("8,000", 79),  # 79.2
        ("10,000", 24),
    ]
    # The 5th is 4/19 of 600 on, 126.3; the 6th 157.9; the 10th 284.2. 9 kg stand at 51.6, 9.5 kg at 37.8.
    assert plot.path == "M104 300V24H230V52H262V79H388V38H704"
    assert [(mark.x, mark.shape) for mark in plot.marks] == [
        (104, "up"),
        (230, "down"),
        (262, "down"),
        (388, "up"),
        (388, "down"),
    ]
    assert plot.marks[1].words == "5 Mar 2026: 1,000\N{NO-BREAK SPACE}g went out"
    assert plot.says.replace("\N{NO-BREAK SPACE}", " ") == (
        "Level of wax from 1 Mar 2026 to 20 Mar 2026: 0 g at first, 9,500 g now, never less than 0 g or more than "
        "10,000 g at the end of a day."
    )
    assert [cell.replace("\N{NO-BREAK SPACE}", " ") for cell in plot.rows[0].cells] == [
        "10 Mar 2026",
        "2,000 g",
        "500 g",
        "9,500 g",
    ]
    assert plot.guide is None


def test_a_level_not_to_fall_below_is_drawn_and_kept_in_sight(wax):
    plot = level_plot(wax.item, past(wax), Line(grams(15_000), "Reorder point"))

    assert (plot.guide.words, plot.guide.at) == ("Reorder point", plots.TOP)
    assert plot.up[-1].label == "15,000"


def test_pieces_are_plotted_in_whole_numbers(books):
    lot = books.receive("wick", 3, cost=1)

    plot = level_plot(lot.item, past(lot, on_hand="3"))

    assert plot.title == "Level"
    assert [tick.label for tick in plot.up] == ["0", "1", "2", "3"]


def test_the_plot_of_prices(books, wax):
    """10 kg for 60 are 6.00 a kilogram, 2 kg for 13 are 6.50; an offer of 20 kg at 100 is 5.00."""
    books.offer("wax", "20 kg", (1, 100), on=date(2026, 3, 15))

    plot = price_plot(wax.item, price_points(wax.item), "USD", first=FIRST, last=TODAY)

    # From 5 less a tenth of the highest to 6.5 and a tenth: 4.35 to 7.15, in steps of 1 from 4 to 8.
    assert [tick.label for tick in plot.up] == ["4", "5", "6", "7", "8"]
    assert [(mark.shape, mark.y) for mark in plot.marks] == [
        ("dot", 162),  # 6.00 is half way: 162
        ("dot", 128),  # 6.50: 127.5
        ("ring", 231),  # 5.00: 231
    ]
    assert plot.path == "M104 162L388 128"
    assert plot.title == "Price per kg, in USD"
    assert plot.rows[0].cells == ("15 Mar 2026", "Tollgate Wax and Wick, quoted", "$5.00")
    assert plot.rows[-1].cells[2] == "$6.00"
    assert "$5.00 at the lowest, $6.50 at the highest, $5.00 at last" in plot.says


def test_prices_outside_the_days_shown_are_left_out(books, wax):
    points = price_points(wax.item)

    assert len(price_plot(wax.item, points, "USD", first=date(2026, 3, 2), last=TODAY).marks) == 1
    assert price_plot(wax.item, points, "USD", first=date(2026, 3, 11), last=TODAY) is None
    assert price_plot(wax.item, [], "USD", first=FIRST, last=TODAY) is None


def test_a_gift_is_plotted_at_nothing(books, wax):
    point = PricePoint(TODAY, 0, grams(1_000), True, "Tollgate", "/", None, 1, "1 kg", "")

    plot = price_plot(wax.item, [point], "USD", first=FIRST, last=TODAY)

    assert plot.up[0].label.startswith("0")
    assert plot.marks[0].y == plots.BOTTOM


# The ledger


def test_every_line_says_what_was_there_after_it(books, wax):
    lines = Movement.objects.filter(lot__item=wax.item)

    found = list(ledger_lines.shown_with_levels(lines, Q()))

    assert [(line.quantity, level) for line, level in found] == [
        (grams(-500), grams(9_500)),
        (grams(2_000), grams(10_000)),
        (grams(-1_000), grams(8_000)),
        (grams(-1_000), grams(9_000)),
        (grams(10_000), grams(10_000)),
    ]
    assert ledger_lines.levels(lines, [line.pk for line, _ in found]) == {
        line.pk: level for line, level in found
    }
    assert ledger_lines.back_from(grams(9_500), [line for line, _ in found]) == found


def test_lines_left_out_count_all_the_same(wax):
    lines = Movement.objects.filter(lot__item=wax.item)

    drawn = list(ledger_lines.shown_with_levels(lines, Q(kind="drawn")))
    came = [(line.kind, level) for line, level in ledger_lines.shown_with_levels(lines, ~Q(kind="drawn"))]

    assert [level for _, level in drawn] == [grams(9_500), grams(8_000), grams(9_000)]
    assert came == [("received", grams(10_000)), ("received", grams(10_000))]
    assert ledger_lines.levels(lines, [drawn[1][0].pk]) == {drawn[1][0].pk: grams(8_000)}
    assert ledger_lines.levels(lines, []) == {}


def test_what_was_written_down_late_stands_where_it_happened(books, wax):
    late = books.draw(wax, "250 g", at=day(4))
    lines = Movement.objects.filter(lot__item=wax.item)

    found = [
        (line.posting_id == late.pk, level) for line, level in ledger_lines.shown_with_levels(lines, Q())
    ]

    assert found[-2:] == [(True, grams(9_750)), (False, grams(10_000))]
    assert found[0][1] == grams(9_250)


def test_a_lot_has_a_ledger_of_its_own(books, wax):
    books.receive("wax", "7 kg", cost=money(1) // 10**6, at=ARRIVED)

    lines = Movement.objects.filter(lot=wax)

    assert [level for _, level in ledger_lines.shown_with_levels(lines, Q())] == [
        grams(7_500),
        grams(8_000),
        grams(9_000),
        grams(10_000),
    ]
