"""Tables people kept before, brought into the books. Every figure is worked out by hand."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import IntegrityError, transaction
from django.utils import timezone

from batches.tracing.shares import Place
from batches.tracing.trace import balance_of_lot, trace_of
from inventory.importing import import_service
from inventory.importing.checks import imports_fit
from inventory.importing.columns import find_headings, understood
from inventory.importing.days import DayError, read_day
from inventory.importing.import_service import NotAsShown
from inventory.importing.marks import AmbiguousMark, WrongMark, as_points
from inventory.importing.shapes import LOTS, MOVEMENTS, OFFERS, SHAPES
from inventory.ledger import books as stock_books
from inventory.ledger import bulk_books
from inventory.ledger.books import BookError, CannotReverse, LotShort, WrongTime
from inventory.ledger.bulk_books import Event, Opening
from inventory.models import Import, ImportedRow, Item, Lot, Movement, Offer, Posting, Supplier, WaitingTable
from studio import guards
from studio.models import Studio
from studio.web.reading_tables import Sheet
from tests.house import NOW, day, grams, money, refused, snapshot

pytestmark = pytest.mark.django_db

SCENT = "Make-Believe Scent House (invented)"


@pytest.fixture(autouse=True)
def shelf(studio, books):
    """What the tables speak of."""
    for name, kind in (
        ("Cedar & Black Tea oil", "fragrance"),
        ("Soy-type container wax", "wax"),
        ("Amber jar 220 g", "vessel"),
        ("Wick tape", "wick"),
    ):
        books.item(
            name, kind, "m" if kind == "wick" else "", **({"place": "Floor F1"} if kind == "wax" else {})
        )
    Supplier.objects.create(name=SCENT)


def plan_of(books, table, text, **choices):
    """What bringing in a file of this text would do."""
    waiting = books.keep_table(table, text)
    if choices:
        import_service.choose(waiting, choices)
    return import_service.look(waiting, Studio.objects.get(), NOW)


def told(plan):
    """Row, column, sentence and suggestion of each problem."""
    return [(each.row, each.column, each.sentence, each.suggestion) for each in plan.problems]


def lots(*rows, heads="Item,Quantity,Cost,Arrived,Supplier's lot,Supplier"):
    return "\n".join([heads, *rows, ""])


def moves(*rows):
    return "\n".join(["Date,Lot,Item,What,Quantity,Note", *rows, ""])


SURE = "Check the unit, or tick above that large quantities are right."
BY_NUMBER = "If it is the supplier's number, name the item beside it."
FIRST = "Bring in the lots first, under Opening lots."

OIL = f"Cedar & Black Tea oil,2.5 kg,98.75,2026-01-20,SF-31,{SCENT}"
JARS = "Amber jar 220 g,144,122.40,3 Feb 2026,,"


# Headings


@pytest.mark.parametrize(
    ("heading", "key", "measure"),
    [
        ("Quantity", "quantity", ""),
        ("  qty. ", "quantity", ""),
        ("QUANTITY", "quantity", ""),
        ("Amount", "quantity", ""),
        ("Qty (kg)", "quantity", "kg"),
        ("Weight in g", "quantity", "g"),
        ("Weight lb", "quantity", "lb"),
        ("Qty (net)", "quantity", ""),
        ("Supplier’s Lot No.", "supplier_lot", ""),
        ("lot #", "supplier_lot", ""),
        ("Price per kg", "unit_cost", "kg"),
        ("cost/lb", "unit_cost", "lb"),
        ("Cost (USD)", "cost", "USD"),
        ("Paid $", "cost", "$"),
        ("Date received", "arrived_on", ""),
        ("Received on", "arrived_on", ""),
        ("best-before", "expires_on", ""),
        ("Colour", None, None),
        ("Quantity of nothing", None, None),
    ],
)
def test_a_heading_is_found_whatever_its_case_and_signs(heading, key, measure):
    match = understood(LOTS, heading)

    assert (match and match[0].key, match and match[1]) == (key, measure)


def test_no_two_columns_of_a_table_are_meant_by_the_same_heading():
    for shape in SHAPES.values():
        names = [name for column in shape.columns for name in column.names]
        assert len(names) == len(set(names)), shape.table


def test_the_row_with_most_headings_is_the_row_of_headings():
    sheet = Sheet(
        "",
        [
            (1, ["Item list"]),
            (2, ["item", "see below"]),
            (4, ["Arrived", "Item", "Qty"]),
            (5, ["x", "y", "z"]),
        ],
    )

    headings = find_headings(LOTS, sheet)

    assert (headings.row, headings.place) == (4, {"arrived_on": 0, "item": 1, "quantity": 2})


def test_columns_stand_in_any_order_and_unknown_ones_are_named(books):
    plan = plan_of(
        books, "lots", f"Colour,ARRIVED,paid,Item,qty,\npink,2026-01-20,98.75,{OIL[:21]},2.5 kg,\n"
    )

    assert plan.ready
    assert ("paid", "Cost", "") in plan.understood()
    assert "Columns this table does not have, left out: Colour." in plan.notes


def test_a_needed_column_that_is_missing_is_said_once(books):
    plan = plan_of(books, "lots", "Item,Cost\n" + "Amber jar 220 g,1\n" * 5)

    assert [each[:3] for each in told(plan)] == [
        (1, "Quantity", "This column is missing."),
        (1, "Arrived", "This column is missing."),
    ]
    assert "qty" in plan.problems[0].suggestion


def test_two_headings_of_one_meaning_are_a_problem(books):
    plan = plan_of(books, "lots", "Item,Qty,Amount,Cost,Arrived\nAmber jar 220 g,1,2,3,2026-01-20\n")

    assert told(plan)[0][:3] == (1, "Amount", "This means the same as the heading Qty.")


def test_a_file_without_headings_says_what_is_needed(books):
    plan = plan_of(books, "lots", "one,two\n3,4\n")

    assert [each[2:] for each in told(plan)] == [
        ("There is no row of headings this table knows.", "It needs at least: Item, Quantity, Arrived.")
    ]
    assert not plan.ready


def test_every_template_is_read_and_its_examples_are_left_out(books):
    for shape in SHAPES.values():
        heads = ",".join(f'"{column.heading}"' for column in shape.columns)
        rows = "\n".join(
            ",".join(f'"{cell}"' for cell in (f"Example: {first}", *rest))
            for first, *rest in ([column.examples[number] for column in shape.columns] for number in (0, 1))
        )
        plan = plan_of(books, shape.table, f"{heads}\n{rows}")

        assert (plan.rows, plan.new, plan.problems) == (0, [], []), shape.table
        assert "2 example rows, beginning with “Example:”, left out." in plan.notes
        assert len(plan.headings.place) == len(shape.columns)


# Opening lots


def test_opening_lots_come_in_with_codes_values_and_postings(books):
    run = books.bring_in("lots", lots(OIL, JARS))

    oil, jars = Lot.objects.order_by("pk")
    assert (oil.on_hand, oil.value, oil.supplier_lot, oil.supplier.name) == (
        grams(2500),
        money("98.75"),
        "SF-31",
        SCENT,
    )
    assert (jars.on_hand, jars.value, jars.supplier) == (144, money("122.40"), None)
    assert oil.arrived_at == datetime(2026, 1, 20, 8, tzinfo=UTC)
    assert [(move.kind, move.quantity, move.value) for move in Movement.objects.order_by("pk")] == [
        ("received", grams(2500), money("98.75")),
        ("received", 144, money("122.40")),
    ]
    first, second = Posting.objects.order_by("happened_at")
    assert (first.kind, first.happened_at, first.recorded_at, first.by, first.reason) == (
        "opening", oil.arrived_at, NOW, books.by, "",
    )  # fmt: skip
    assert second.happened_at == datetime(2026, 2, 3, 8, tzinfo=UTC)
    assert (run.rows, run.added, run.by, run.at, run.name) == (2, 2, books.by, NOW, "notebook.csv")
    assert ImportedRow.objects.filter(run=run).count() == 2
    assert not WaitingTable.objects.exists()
    call_command("check_books")


def test_units_are_mixed_in_one_column_and_understood_exactly(books):
    # 5 lb = 5 × 453,592,370 µg; 2 lb 3 oz = 2 × 453,592,370 + 3 × 28,349,523.125, half to even.
    wax = "Soy-type container wax"
    rows = [
        f"{wax},{quantity},1,2026-01-20,,"
        for quantity in ("2.5 kg", "5 lb", "800 g", "2 lb 3 oz", "650", ".5 KG")
    ]
    plan = plan_of(books, "lots", lots(*rows))

    assert [entry.what.quantity for entry in plan.new] == [
        2_500_000_000, 2_267_961_850, 800_000_000, 992_233_309, 650_000_000, 500_000_000,
    ]  # fmt: skip
    assert "Quantities without a unit were read in the item's own: 1 in g." in plan.notes


@pytest.mark.parametrize(
    ("heads", "row", "quantity"),
    [
        ("Item,Qty,Unit,Cost,Arrived", "Soy-type container wax,2.5,kg,1,2026-01-20", grams(2500)),
        ("Item,Qty,Unit,Cost,Arrived", "Soy-type container wax,2.5 kg,kg,1,2026-01-20", grams(2500)),
        ("Item,Qty (kg),Cost,Arrived", "Soy-type container wax,2.5,1,2026-01-20", grams(2500)),
        ("Item,Qty (kg),Cost,Arrived", "Soy-type container wax,800 g,1,2026-01-20", grams(800)),
        ("Item,Qty (kg),Unit,Cost,Arrived", "Soy-type container wax,800,g,1,2026-01-20", grams(800)),
        ("Item,Qty,Unit,Cost,Arrived", "Amber jar 220 g,12,pcs,1,2026-01-20", 12),
        ("Item,Qty,Unit,Cost,Arrived", "Wick tape,3,,1,2026-01-20", 3_000_000),
        # A gross is 144; packs say what is in one in the cell, or in a column of their own.
        ("Item,Qty,Unit,Cost,Arrived", "Amber jar 220 g,1 gross,,1,2026-01-20", 144),
        ("Item,Qty,Unit,Cost,Arrived", "Amber jar 220 g,1,gross,1,2026-01-20", 144),
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,4 cases of 24,1,2026-01-20", 96),
        ("Item,Qty,In one pack,Cost,Arrived", "Amber jar 220 g,4 cases,24,1,2026-01-20", 96),
        ("Item,Qty,Unit,In one pack,Cost,Arrived", "Amber jar 220 g,4,cases,24,1,2026-01-20", 96),
        (
            "Item,Qty,In one pack,Cost,Arrived",
            "Soy-type container wax,4 cases,2.5 kg,1,2026-01-20",
            grams(10_000),
        ),
        ("Item,Qty,In one pack,Cost,Arrived", "Amber jar 220 g,12,24,1,2026-01-20", 12),
    ],
)
def test_a_bare_number_is_in_the_unit_beside_it_or_in_the_heading_or_in_the_items_own(
    books, heads, row, quantity
):
    plan = plan_of(books, "lots", f"{heads}\n{row}\n")

    assert told(plan) == []
    assert [entry.what.quantity for entry in plan.new] == [quantity]


def test_packs_that_say_what_is_in_one_agree_with_the_column_for_it(books):
    heads = "Item,Qty,In one pack,Cost,Arrived"
    rows = ["Amber jar 220 g,4 cases of 24,12,1,2026-01-20", "Amber jar 220 g,3 cases of 24,24,1,2026-01-20"]
    plan = plan_of(books, "lots", "\n".join((heads, *rows)))

    assert told(plan) == [
        (
            2,
            "In one pack",
            "The quantity says 4 cases of 24, and this says 12. Correct one of them.",
            "",
        )
    ]
    assert [entry.what.quantity for entry in plan.new] == [72]


@pytest.mark.parametrize("cells", ["4 cases,", "4,cases"])
def test_packs_of_a_size_nobody_names_are_a_problem_and_never_pieces(books, cells):
    plan = plan_of(books, "lots", f"Item,Qty,Unit,Cost,Arrived\nAmber jar 220 g,{cells},1,2026-01-20\n")

    (problem,) = plan.problems
    assert problem.sentence == "How many are in one case? Write it as well: 4 cases of 24."
    assert "column In one pack" in problem.suggestion
    assert not plan.new


@pytest.mark.parametrize(
    ("typed", "sentence", "suggestion"),
    [
        ('"1,500 g"', "This can be read two ways.", "Write 1500 g or 1.5 g, or say above what commas mean."),
        ('"12,000"', "This can be read two ways.", "Write 12000 or 12, or say above what commas mean."),
        ('"1,5 kg"', "Write decimals with a point: 1.5", ""),
        ("approx 2 kg", "Write only a number and its unit, for example 12 g.", "Did you mean 2 kg?"),
        ("~2 kg", "Write only a number and its unit, for example 12 g.", "Did you mean 2 kg?"),
        ("2 kg (half left)", "Write only a number and its unit, for example 12 g.", "Did you mean 2 kg?"),
        ("2.5 kgg", '"kgg" is not a unit of weight used here; use one of: mg, g, kg, oz, lb.', "Did you mean 2.5 kg?"),
        ("2.5 k", '"k" is not a unit of weight used here; use one of: mg, g, kg, oz, lb.', "Did you mean 2.5 kg?"),
        ("2.5 l", '"l" is a volume; weigh it and enter the weight, for example 12 g.', ""),
        ("500 gr", '"gr" can mean grams or grains; write g for grams.', "Did you mean 500 g?"),
        ("-2 kg", "Leave out the minus sign; an amount cannot be below zero.", ""),
        ("0 kg", "Enter an amount above zero, for example 12 g.", ""),
        ("1e3 g", "Write the number in full, without an exponent: 1500, not 1.5e3.", ""),
        ("NaN", "Write only a number and its unit, for example 12 g.", ""),
        ("", "Fill this in.", ""),
        ("3000 kg", "More than 250,000 g of Cedar & Black Tea oil is not expected.", SURE),
    ],
)  # fmt: skip
def test_a_quantity_that_cannot_be_is_named_with_what_was_probably_meant(books, typed, sentence, suggestion):
    plan = plan_of(books, "lots", lots(JARS, f"Cedar & Black Tea oil,{typed},1,2026-01-20,,"))

    assert told(plan) == [(3, "Quantity", sentence.replace("250,000 g", "250,000\xa0g"), suggestion)]
    assert not plan.ready


@pytest.mark.parametrize(
    ("heads", "row", "sentence"),
    [
        (
            "Item,Qty,Unit,Cost,Arrived",
            "Soy-type container wax,2.5 kg,g,1,2026-01-20",
            "The column Unit says g",
        ),
        ("Item,Qty,Unit,Cost,Arrived", "Soy-type container wax,2.5,each,1,2026-01-20", '"each" is a count'),
        ("Item,Qty,Unit,Cost,Arrived", "Amber jar 220 g,3,kg,1,2026-01-20", '"kg" is a weight'),
        ("Item,Qty (kg),Cost,Arrived", "Amber jar 220 g,3,1,2026-01-20", "says kg, and this item is counted"),
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,2.5,1,2026-01-20", "counted whole"),
    ],
)
def test_units_that_do_not_agree_are_a_problem(books, heads, row, sentence):
    (problem,) = plan_of(books, "lots", f"{heads}\n{row}\n").problems

    assert sentence in problem.sentence


def test_what_commas_mean_may_be_said_for_the_whole_file(books):
    wax = "Soy-type container wax"
    rows = (f"{wax};1,500 g;12,50;2026-01-20", f"{wax};1.500,5 g;1.250;2026-01-20")
    text = "\n".join(("Item;Quantity;Cost;Arrived", *rows))

    unsaid = plan_of(books, "lots", text)
    decimal = plan_of(books, "lots", text, marks="comma")

    assert "marks" in unsaid.asks
    assert [problem.sentence for problem in unsaid.problems if problem.row == 2] == [
        "This can be read two ways.",
        "Write decimals with a point: 12.50",
    ]
    assert [(entry.what.quantity, entry.what.cost) for entry in decimal.new] == [
        (1_500_000, money("12.50")),
        (1_500_500_000, money(1250)),
    ]
    assert "Commas are decimal marks here, as you chose: 1,5 is one and a half." in decimal.notes


def test_commas_between_thousands_when_that_is_what_was_said(books):
    plan = plan_of(
        books, "lots", lots('Soy-type container wax,"1,500 g","1,250.50",2026-01-20,,'), marks="point"
    )

    assert [(entry.what.quantity, entry.what.cost) for entry in plan.new] == [(grams(1500), money("1250.50"))]


def test_marks_in_numbers():
    assert as_points("1.500,5", "comma") == "1500.5"
    assert as_points("2 lb 3,5 oz", "comma") == "2 lb 3.5 oz"
    assert as_points("1,500.5", "") == "1,500.5"
    assert as_points("0,125", "") == "0,125"  # not two ways: the grammar refuses it by itself
    with pytest.raises(WrongMark):
        as_points("1.5", "comma")
    with pytest.raises(AmbiguousMark):
        as_points("about 1,500", "")


@pytest.mark.parametrize(
    ("heads", "row", "cost"),
    [
        ("Item,Qty,Cost,Arrived", "Soy-type container wax,10 lb,$24.90,2026-01-20", "24.90"),
        ("Item,Qty,Cost,Arrived", "Soy-type container wax,10 lb,2.49/lb,2026-01-20", "24.90"),
        ("Item,Qty,Unit cost,Arrived", "Soy-type container wax,10 lb,2.49 per lb,2026-01-20", "24.90"),
        # A bare price is for one of the row's unit: 800 g at 0.0124 each gram.
        ("Item,Qty,Unit cost,Arrived", "Soy-type container wax,800 g,0.0124,2026-01-20", "9.92"),
        ("Item,Qty,Unit,Unit cost,Arrived", "Soy-type container wax,2.5,kg,4.90,2026-01-20", "12.25"),
        ("Item,Qty,Price per kg,Arrived", "Soy-type container wax,800 g,5.50,2026-01-20", "4.40"),
        ("Item,Qty,Unit cost,Arrived", "Amber jar 220 g,144,0.85 each,2026-01-20", "122.40"),
        ("Item,Qty,Cost,Unit cost,Arrived", "Amber jar 220 g,144,122.00,0.85,2026-01-20", "122.00"),
        ("Item,Qty,Cost (USD),Arrived", "Amber jar 220 g,144,122.40,2026-01-20", "122.40"),
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,144,0,2026-01-20", "0"),
    ],
)
def test_what_a_lot_cost_is_given_in_all_or_by_the_unit(books, heads, row, cost):
    plan = plan_of(books, "lots", f"{heads}\n{row}\n")

    assert told(plan) == []
    assert [entry.what.cost for entry in plan.new] == [money(cost)]


@pytest.mark.parametrize(
    ("heads", "row", "column", "sentence"),
    [
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,144,EUR 5,2026-01-20", "Cost", "kept in USD"),
        ("Item,Qty,Cost (EUR),Arrived", "Amber jar 220 g,144,5,2026-01-20", "Cost (EUR)", "kept in USD"),
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,144,12 per pack,2026-01-20", "Cost", "whole lot cost"),
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,144,cheap,2026-01-20", "Cost", "Write a sum"),
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,144,-5,2026-01-20", "Cost", "minus"),
        ("Item,Qty,Cost,Arrived", 'Amber jar 220 g,144,"1,250",2026-01-20', "Cost", "two ways"),
        (
            "Item,Qty,Cost,Unit cost,Arrived",
            "Amber jar 220 g,144,120.00,0.85,2026-01-20",
            "Unit cost",
            "$122.40",
        ),
        ("Item,Qty,Cost,Arrived", "Amber jar 220 g,144,,2026-01-20", "Cost", "not known"),
    ],
)
def test_a_cost_that_cannot_be_is_named(books, heads, row, column, sentence):
    (problem,) = plan_of(books, "lots", f"{heads}\n{row}\n").problems

    assert problem.column == column
    assert sentence in problem.sentence


def test_a_lot_without_a_cost_is_worth_nothing_only_when_that_is_said(books):
    text = lots("Amber jar 220 g,144,,2026-01-20,,", "Amber jar 220 g,10,-,2026-01-21,,")

    assert [problem.row for problem in plan_of(books, "lots", text).problems] == [2, 3]
    plan = plan_of(books, "lots", text, worthless=True)

    assert plan.ready
    waiting = WaitingTable.objects.latest("pk")
    import_service.bring_in(waiting, shown=plan.fingerprint, signature=books.sign())
    assert list(Lot.objects.values_list("value", flat=True)) == [0, 0]
    # The same file again is known, whether that is said again or not.
    again = plan_of(books, "lots", text)
    assert (again.known, again.new, again.problems) == (2, [], [])


def test_a_large_quantity_comes_in_after_the_tick(books):
    assert plan_of(books, "lots", lots("Cedar & Black Tea oil,3000 kg,1,2026-01-20,,"), sure=True).ready


@pytest.mark.parametrize(
    ("typed", "order", "found"),
    [
        ("2026-03-04", "", date(2026, 3, 4)),
        ("2026/3/4", "", date(2026, 3, 4)),
        ("3 Mar 2026", "", date(2026, 3, 3)),
        ("3rd March 2026", "", date(2026, 3, 3)),
        ("03-Mar-2026", "", date(2026, 3, 3)),
        ("March 3, 2026", "", date(2026, 3, 3)),
        ("Sept. 3 2025", "", date(2025, 9, 3)),
        ("25/02/2026", "", date(2026, 2, 25)),
        ("02/25/2026", "", date(2026, 2, 25)),
        ("3.3.2026", "", date(2026, 3, 3)),
        ("03/04/2026", "day", date(2026, 4, 3)),
        ("03/04/2026", "month", date(2026, 3, 4)),
    ],
)
def test_days_as_people_write_them(typed, order, found):
    assert read_day(typed, order) == found


@pytest.mark.parametrize(
    ("typed", "order", "sentence"),
    [
        ("03/04/2026", "", "two ways"),
        ("25/02/2026", "month", "other way round"),
        ("03/04/26", "", "Two figures"),
        ("3 Mar 26", "", "Two figures"),
        ("45000", "", "spreadsheet's own count"),
        ("Mar 2026", "", "day is missing"),
        ("2026", "", "day is missing"),
        ("30 Feb 2026", "", "no such day"),
        ("0001-01-01", "", "year"),
        ("9999-12-31", "", "year"),
        ("3 Foo 2026", "", "name of a month"),
        ("last week", "", "not a day"),
        ("٣ Mar 2026", "", "not a day"),
        ("00/00/0000", "", "no such day"),
    ],
)
def test_what_is_no_day(typed, order, sentence):
    with pytest.raises(DayError, match=sentence):
        read_day(typed, order)


def test_an_ambiguous_day_names_both_and_is_read_when_the_order_is_said(books):
    text = lots("Amber jar 220 g,1,1,03/02/2026,,")

    (problem,) = plan_of(books, "lots", text).problems
    said = plan_of(books, "lots", text, days="month")

    assert problem.suggestion == "Say above which figure is the day, or write 3 Feb 2026 or 2 Mar 2026."
    assert [entry.what.arrived_on for entry in said.new] == [date(2026, 3, 2)]
    assert any("as you chose" in note for note in said.notes)


def test_a_lot_opens_at_eight_in_the_studio_and_never_after_now(books):
    with timezone.override(ZoneInfo("Pacific/Auckland")):
        # NOW, noon UTC on the 20th, is one in the morning of the 21st there (UTC+13): eight has not come.
        books.bring_in("lots", lots("Amber jar 220 g,1,1,2026-03-20,,", "Amber jar 220 g,2,1,2026-03-21,,"))

    assert list(Lot.objects.order_by("pk").values_list("arrived_at", flat=True)) == [
        datetime(2026, 3, 19, 19, tzinfo=UTC),
        NOW,
    ]


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        ("Amber jar 220 g,1,1,2026-03-21,,", "Arrived", "future"),
        ("Amber jar 220 g,1,1,,,", "Arrived", "Fill this in."),
        ("Amber jar 220 g,1,1,unknown,,", "Arrived", "Fill this in."),
        (f"Amber jar 220 g,1,1,2026-03-01,{'x' * 61},", "Supplier's lot", "At most 60"),
        ("Amber jar 220 g,1,1,2026-03-01,,Nobody", "Supplier", "no supplier of this name"),
    ],
)
def test_a_row_of_a_lot_that_cannot_be(books, row, column, sentence):
    (problem,) = plan_of(books, "lots", lots(row)).problems

    assert problem.column == column
    assert sentence in problem.sentence


def test_an_unknown_item_is_offered_the_near_one(books):
    plan = plan_of(
        books, "lots", lots("cedar and black tea,1 g,1,2026-03-01,,", "Marzipan,1 g,1,2026-03-01,,")
    )

    assert told(plan) == [
        (2, "Item", "There is no item of this name.", "Did you mean Cedar & Black Tea oil?"),
        (3, "Item", "There is no item of this name.", "Bring it in first, under Items."),
    ]


def test_a_lot_cannot_expire_or_be_opened_before_it_arrived(books):
    heads = "Item,Quantity,Cost,Arrived,Expires,Opened"

    plan = plan_of(books, "lots", f"{heads}\nAmber jar 220 g,1,1,2026-03-01,2026-02-01,2026-02-02\n")

    assert [problem.column for problem in plan.problems] == ["Expires", "Opened"]


def test_expiry_and_place_follow_the_item_where_the_file_is_silent(books):
    Item.objects.filter(name="Soy-type container wax").update(shelf_life_days=730)
    heads = "Item,Quantity,Cost,Arrived,Expires,Place,Container,Opened"
    books.bring_in(
        "lots",
        f"{heads}\nSoy-type container wax,1 kg,1,2026-01-01,,,,\n"
        "Soy-type container wax,1 kg,1,2026-01-01,2026-12-31,Shelf B,pail,2026-02-01\n",
    )

    assert list(Lot.objects.order_by("pk").values_list("expires_on", "place", "container", "opened_on")) == [
        (date(2028, 1, 1), "Floor F1", "", None),
        (date(2026, 12, 31), "Shelf B", "pail", date(2026, 2, 1)),
    ]


def test_all_problems_of_a_file_are_named_at_once(books):
    plan = plan_of(
        books,
        "lots",
        lots("Sedar & Black Tea oil,2 kgg,x,yesterday,,Nobody", JARS, "Amber jar 220 g,1.5,-1,,,"),
    )

    assert [(problem.row, problem.column) for problem in plan.problems] == [
        (2, "Item"), (2, "Supplier"), (2, "Arrived"), (4, "Quantity"), (4, "Cost"), (4, "Arrived"),
    ]  # fmt: skip


def test_a_row_with_a_comma_too_many_is_named(books):
    (problem,) = plan_of(books, "lots", lots("Amber jar 220 g,144,122,40,2026-01-20,,,,x")).problems[:1]

    assert problem.sentence == "This row has more cells than there are headings."


# The same again


def test_the_same_file_again_adds_nothing_and_a_longer_one_what_is_new(books):
    first = lots(OIL, JARS)
    books.bring_in("lots", first)
    before = snapshot()

    again = plan_of(books, "lots", first)
    assert (again.known, again.new_rows, again.problems) == (2, 0, [])
    with pytest.raises(NotAsShown):
        import_service.bring_in(
            WaitingTable.objects.latest("pk"), shown=again.fingerprint, signature=books.sign()
        )
    assert snapshot() == before

    # Written otherwise, and in another order: it says the same.
    longer = lots("amber JAR 220 g,10,8.50,2026-02-04,,", "Amber  jar 220 g,144,$122.40,2026-02-03,,", OIL)
    run = books.bring_in("lots", longer)

    assert (run.rows, run.added) == (3, 1)
    assert list(Lot.objects.order_by("pk").values_list("on_hand", flat=True)) == [grams(2500), 144, 10]


def test_rows_alike_in_one_file_are_lots_of_their_own_each_known_again(books):
    books.bring_in("lots", lots(JARS, JARS))
    assert Lot.objects.count() == 2

    plan = plan_of(books, "lots", lots(JARS, JARS, JARS))

    assert (plan.known, plan.new_rows) == (2, 1)


def test_what_was_reversed_may_come_in_again(books):
    books.bring_in("lots", lots(OIL, JARS))
    books.reverse(Posting.objects.get(movements__lot__item__name="Amber jar 220 g"))

    plan = plan_of(books, "lots", lots(OIL, JARS))
    assert (plan.known, plan.new_rows) == (1, 1)
    assert "1 of the new rows were brought in before and reversed since; they come in again." in plan.notes
    books.bring_in("lots", lots(OIL, JARS))

    assert list(Lot.objects.order_by("pk").values_list("on_hand", flat=True)) == [grams(2500), 0, 144]
    assert plan_of(books, "lots", lots(OIL, JARS)).known == 2
    call_command("check_books")


def test_a_row_changed_in_the_file_since_is_pointed_at(books):
    books.bring_in("lots", lots(OIL))

    plan = plan_of(books, "lots", lots(OIL.replace("98.75", "89.75")))

    assert plan.new_rows == 1
    assert [(notice.row, "came from a table too" in notice.sentence) for notice in plan.notices] == [
        (2, True)
    ]


def test_two_imports_of_one_file_at_once_cannot_both_land(books):
    books.bring_in("lots", lots(JARS))
    row = ImportedRow.objects.get()

    with pytest.raises(IntegrityError), transaction.atomic():
        ImportedRow.objects.bulk_create(
            [ImportedRow(key=row.key, run=row.run, posting=row.posting, lot=row.lot)]
        )


def test_when_the_books_changed_since_it_was_shown_nothing_is_brought_in(books):
    waiting = books.keep_table("lots", lots(OIL, JARS))
    shown = import_service.look(waiting, Studio.objects.get(), NOW).fingerprint
    books.bring_in("lots", lots(JARS))
    before = snapshot()

    with pytest.raises(NotAsShown) as caught:
        import_service.bring_in(waiting, shown=shown, signature=books.sign())

    assert snapshot() == before
    assert caught.value.plan.known == 1
    assert WaitingTable.objects.filter(pk=waiting.pk).exists()
    # What does not matter to it does not.
    books.receive("wax", "1 kg", cost=5)
    import_service.bring_in(waiting, shown=caught.value.plan.fingerprint, signature=books.sign())


def test_nothing_lands_when_writing_fails_halfway(books, monkeypatch):
    waiting = books.keep_table("lots", lots(OIL, JARS))
    shown = import_service.look(waiting, Studio.objects.get(), NOW).fingerprint

    def fail(*args, **kwargs):
        raise BookError("The wax ran out.")

    monkeypatch.setattr("inventory.importing.lots.ImportedRow.objects.bulk_create", fail)
    with refused(BookError, "ran out"):
        import_service.bring_in(waiting, shown=shown, signature=books.sign())
    assert not Import.objects.exists()
    assert WaitingTable.objects.exists()


def test_old_files_that_wait_go(books):
    waiting = books.keep_table("lots", lots(OIL))
    WaitingTable.objects.update(at=day(1))
    for _ in range(25):
        books.keep_table("lots", lots(JARS))

    assert not WaitingTable.objects.filter(pk=waiting.pk).exists()
    assert WaitingTable.objects.count() == import_service.WAITING_AT_MOST


# Past movements


@pytest.fixture
def oil(books):
    books.bring_in("lots", lots(OIL))
    return Lot.objects.get()


def test_past_movements_carry_the_value_of_what_left_in_the_order_things_happened(books, oil):
    # 2,500 g for 98.75 are 0.0395 each gram: 420 g carry 16.59, 80 g carry 3.16, the 100 g found nothing.
    # Of the 2,000 g for 79.00 left, with the 100 g found, 300 g carry 79.00 × 300/2100 = 11.285714.
    books.bring_in(
        "movements",
        moves(
            f"2026-03-10,{oil.code},,sold,300 g,the last market",
            "2026-02-14,sf-31,cedar & black tea oil,Used,420 g,",
            f"14 Feb 2026,{oil.spaced_code},,sample,80 g,",
            f"2026-03-01,{oil.code.lower()},,found,0.1 kg,behind the shelf",
        ),
    )

    rows = Movement.objects.filter(posting__kind="earlier").order_by("posting__happened_at", "pk")
    assert [(move.kind, move.quantity, move.value) for move in rows] == [
        ("drawn", -grams(420), -money("16.59")),
        ("sampled", -grams(80), -money("3.16")),
        ("found", grams(100), 0),
        ("dispatched", -grams(300), -11_285_714),
    ]
    assert books.of(oil) == (grams(1800), money("79.00") - 11_285_714)
    postings = Posting.objects.filter(kind="earlier").order_by("happened_at")
    assert [(post.happened_at, post.reason, post.movements.count()) for post in postings] == [
        (datetime(2026, 2, 14, 12, tzinfo=UTC), "", 2),
        (datetime(2026, 3, 1, 12, tzinfo=UTC), "behind the shelf", 1),
        (datetime(2026, 3, 10, 12, tzinfo=UTC), "the last market", 1),
    ]
    call_command("check_books")


def test_all_of_a_lot_leaves_nothing_behind(books, oil):
    books.bring_in(
        "movements", moves(f"2026-02-14,{oil.code},,used,700 g,", f"2026-02-15,{oil.code},,scrapped,1.8 kg,")
    )

    assert books.of(oil) == (0, 0)


@pytest.mark.parametrize(
    ("row", "column", "sentence", "suggestion"),
    [
        ("2026-02-14,SF-31,,used,5 g,", "Lot", "No lot carries this code.", BY_NUMBER),
        ("2026-02-14,SF-13,Cedar & Black Tea oil,used,5 g,", "Lot", "No lot of Cedar", "Did you mean SF-31?"),
        ("2026-02-14,X-9,Soy-type container wax,used,5 g,", "Lot", "No lot of Soy-type container wax", FIRST),
        ("2026-02-14,,,used,5 g,", "Lot", "Fill this in.", ""),
        ("2026-02-14,SF-31,Cedar & Black Tea oil,vanished,5 g,", "What", "Write one of: used, sold, scrapped", ""),
        ("2026-02-14,SF-31,Cedar & Black Tea oil,scraped,5 g,", "What", "Write one of: used", "Did you mean scrapped?"),
        ("2026-03-21,SF-31,Cedar & Black Tea oil,used,5 g,", "Date", "This lies in the future.", ""),
        ("2026-01-19,SF-31,Cedar & Black Tea oil,used,5 g,", "Quantity", "arrived on 20 Jan 2026, 08:00; nothing", ""),
        ("2026-02-14,SF-31,Cedar & Black Tea oil,used,2.6 kg,", "Quantity", "by the books; 2,600 g was asked of it.", ""),
        ("2026-02-14,SF-31,Cedar & Black Tea oil,used,5 ml,", "Quantity", "is a volume", ""),
    ],
)  # fmt: skip
def test_a_past_movement_that_cannot_be_is_named(books, oil, row, column, sentence, suggestion):
    (problem,) = plan_of(
        books, "movements", moves("2026-02-01,SF-31,Cedar & Black Tea oil,used,1 g,", row)
    ).problems

    assert (problem.row, problem.column, problem.suggestion) == (3, column, suggestion)
    assert sentence in problem.sentence.replace("\xa0", " ")


def test_a_mistyped_code_offers_the_near_one(books, oil):
    swapped = oil.code[:4] + oil.code[5] + oil.code[4]

    (problem,) = plan_of(books, "movements", moves(f"2026-02-01,{swapped},,used,1 g,")).problems

    assert problem.suggestion == f"Did you mean {oil.spaced_code} (Cedar & Black Tea oil)?"


def test_a_code_beside_another_item_is_a_problem(books, oil):
    (problem,) = plan_of(books, "movements", moves(f"2026-02-01,{oil.code},Amber jar 220 g,used,1,")).problems

    assert problem.sentence == f"Lot {oil.spaced_code} is of Cedar & Black Tea oil."


def test_a_suppliers_number_on_two_lots_asks_for_the_code(books, oil):
    books.bring_in("lots", lots(OIL.replace("2.5 kg", "1 kg").replace("98.75", "40.00")))

    (problem,) = plan_of(
        books, "movements", moves("2026-02-01,SF-31,Cedar & Black Tea oil,used,1 g,")
    ).problems

    assert "carry this number" in problem.sentence
    assert oil.spaced_code in problem.sentence


def test_the_row_that_takes_more_than_was_there_is_named_not_the_ones_before(books, oil):
    rows = [f"2026-02-{day},{oil.code},,used,1 kg," for day in (12, 10, 11)]

    (problem,) = plan_of(books, "movements", moves(*rows)).problems

    # By the day the third of them is the first row of the file: 10 and 11 Feb leave 500 g.
    assert (problem.row, problem.column) == (2, "Quantity")


def test_no_lot_is_below_nothing_at_any_time_for_what_was_posted_meanwhile(books):
    # 1 kg came on 1 March and 900 g were used on the 5th; found again 500 g on the 10th. So 600 g are there now, and
    # 200 g used on the 2nd would have left the 5th 100 g short.
    lot = books.receive("wax", "1 kg", cost="10.00")
    books.draw(lot, "900 g", at=day(5))
    books.bring_in("movements", moves(f"2026-03-10,{lot.code},,found,500 g,"))

    (problem,) = plan_of(books, "movements", moves(f"2026-03-02,{lot.code},,used,200 g,")).problems
    assert "would have been below nothing on 05 Mar 2026, 09:00" in problem.sentence
    assert plan_of(books, "movements", moves(f"2026-03-02,{lot.code},,used,100 g,")).ready
    assert plan_of(books, "movements", moves(f"2026-03-11,{lot.code},,used,200 g,")).ready


def test_on_the_day_a_lot_arrived_it_happens_when_it_had_arrived(books):
    lot = books.receive("wax", "1 kg", cost="10.00", at=day(4, 16))

    books.bring_in("movements", moves(f"2026-03-04,{lot.code},,used,200 g,"))

    assert Posting.objects.get(kind="earlier").happened_at == day(4, 16)


def test_past_movements_are_known_again(books, oil):
    text = moves(
        f"2026-02-14,{oil.code},,used,5 g,",
        f"2026-02-14,{oil.code},,used,5 g,",
        f"2026-02-14,{oil.code},,used,5 g,note",
    )
    books.bring_in("movements", text)

    assert plan_of(books, "movements", text).known == 3
    # By whichever name the lot goes.
    other = moves("2026-02-14,SF-31,Cedar & Black Tea oil,used,5 g,", f"2026-02-15,{oil.code},,used,6 g,")
    plan = plan_of(books, "movements", other)
    assert (plan.known, plan.new_rows) == (1, 1)


def test_they_are_reversed_like_any_posting_and_an_opening_only_while_nothing_left(books, oil):
    books.bring_in("movements", moves(f"2026-02-14,{oil.code},,used,500 g,"))
    opening, earlier = Posting.objects.order_by("pk")

    with refused(CannotReverse, "was used since"):
        books.reverse(opening)
    books.reverse(earlier)
    assert books.of(oil) == (grams(2500), money("98.75"))
    books.reverse(opening)
    assert books.of(oil) == (0, 0)
    call_command("check_books")


def test_the_trace_says_what_went_before_these_books(books, oil):
    rows = [
        f"2026-02-14,{oil.code},,{what},{grams_} g,"
        for what, grams_ in (("used", 500), ("sold", 300), ("found", 20))
    ]
    books.bring_in("movements", moves(*rows))
    Posting.objects.filter(kind="earlier").get()
    oil.refresh_from_db()

    found = trace_of(oil)
    sums = balance_of_lot(oil, at_most_ppm=20_000)

    at = {end.place: end.quantity for end in found.shares.ends}
    assert at == {
        Place.SHELF: grams(1720),
        Place.BEFORE: grams(500),
        Place.SENT_BEFORE: grams(300),
    }
    assert found.left == []
    assert sums.went == (
        ("Used before these books", grams(500)),
        ("Sent out before these books", grams(300)),
    )
    assert (sums.whole, sums.on_hand, sums.remainder, sums.gap) == (grams(2500), grams(1720), -grams(20), 0)


def test_what_was_found_before_is_not_asked_about_today(books, oil):
    books.bring_in(
        "movements", moves(f"2026-02-14,{oil.code},,found,20 g,", f"2026-02-14,{oil.code},,used,20 g,")
    )

    assert not Posting.objects.to_review().exists()


def test_check_books_notices_a_posting_without_its_table(books, oil):
    bulk_books.post_earlier([Event(oil.pk, Movement.Kind.DRAWN, -grams(1), day(1))], books.sign())

    with pytest.raises(CommandError, match="do not agree"):
        call_command("check_books")


# The books, many at once


def test_many_lots_of_one_moment_are_split_into_postings_of_a_readable_size(books):
    item = books.item("Old box", kind="packaging")
    codes = [f"L{number:05d}" for number in range(1_100)]
    openings = [Opening(Lot(code=code, item=item, arrived_at=day(1)), 5, 10) for code in codes]

    postings = bulk_books.open_lots(openings, books.sign())

    assert [post.movements.count() for post in Posting.objects.order_by("pk")] == [500, 500, 100]
    assert len(postings) == 1_100
    assert Movement.objects.get(lot__code="L00000").posting == postings[0]


@pytest.mark.parametrize(
    ("quantity", "value", "when", "error"),
    [(0, 1, 1, BookError), (5, -1, 1, BookError), (5, 1, 21, WrongTime)],
)
def test_a_lot_that_cannot_have_been_is_refused(books, quantity, value, when, error):
    lot = Lot(code="L00001", item=books.item("wax"), arrived_at=day(when))

    with refused(error, "."):
        bulk_books.open_lots([Opening(lot, quantity, value)], books.sign())


@pytest.mark.parametrize(
    ("events", "error"),
    [
        ([(-600, 6), (-500, 7)], LotShort),
        ([(-1, 21)], WrongTime),
        ([(-1, 1)], WrongTime),
        ([(-500, 4)], WrongTime),
    ],
)
def test_the_books_refuse_what_cannot_have_happened_whoever_asks(books, events, error):
    lot = books.receive("wax", "1 kg", cost="10.00", at=day(2))
    books.draw(lot, "600 g", at=day(5, 8))
    books.bring_in("movements", moves(f"2026-03-05,{lot.code},,found,600 g,"))

    with refused(error, "."):
        bulk_books.post_earlier(
            [Event(lot.pk, Movement.Kind.DRAWN, grams(quantity), day(when)) for quantity, when in events],
            books.sign(),
        )


def test_many_movements_leave_a_lot_as_one_after_the_other_would(books):
    # The writer of many against the writer of one, over the same uneven parts.
    one, many = (books.receive("wax", "1 kg", cost="10.01") for _ in range(2))
    parts = [7, 13, 29, 111, 3, 250, 587]
    for number, part in enumerate(parts):
        books.draw(one, f"{part} g", at=day(2 + number))
    events = [
        Event(many.pk, Movement.Kind.DRAWN, -grams(part), day(2 + place)) for place, part in enumerate(parts)
    ]

    bulk_books.post_earlier(list(reversed(events)), books.sign())

    def values(lot):
        return list(Movement.objects.filter(lot=lot).in_order().values_list("quantity", "value"))

    assert values(many) == values(one)
    assert books.of(many) == books.of(one) == (0, 0)


def test_writing_takes_as_many_queries_for_few_rows_as_for_many(books, django_assert_max_num_queries):
    rows = [
        f"Amber jar 220 g,{number},1,2026-01-{1 + number % 28:02d},OB-{number}," for number in range(1, 400)
    ]
    waiting = books.keep_table("lots", lots(*rows))
    shown = import_service.look(waiting, Studio.objects.get(), NOW).fingerprint

    # 399 lots in pieces of 999 values to a statement, as SQLite takes them; nothing for each row.
    with django_assert_max_num_queries(60):
        import_service.bring_in(waiting, shown=shown, signature=books.sign())
    assert Lot.objects.count() == 399
    assert stock_books.lock([Lot.objects.earliest("pk").pk])


# Names


def test_suppliers_and_items_come_in_by_name(books):
    books.bring_in(
        "suppliers",
        "Name,Contact,E-mail,Phone,Lead time,Note\n"
        'Example Wax Works (invented),Ida Marsh,orders@wax.example,,6 days,"Ring first,\nthen wait."\n'
        f"{SCENT.upper()},,,,,\n",
    )
    books.bring_in(
        "items",
        "name,type,unit,usual place,shelf life,flash point,max load,of wax or of melt,blend,notes\n"
        "Quince Orchard oil,Fragrance oil,grams,Shelf A3,540 days,199.4 °F,10 %,melt,,Smells of autumn\n"
        "House blend,wax,kg,,,,,,yes,\n"
        "Amber tin,tins,pcs,,,,,,no,\n"
        "AMBER jar 220 g,vessel,each,,,,,,,\n",
    )

    wax = Supplier.objects.get(name="Example Wax Works (invented)")
    assert (wax.contact, wax.email, wax.lead_days, wax.notes) == (
        "Ida Marsh", "orders@wax.example", 6, "Ring first,\nthen wait.",
    )  # fmt: skip
    assert Supplier.objects.count() == 2
    oil = Item.objects.get(name="Quince Orchard oil")
    # 199.4 °F = (199.4 − 32) × 5/9 = 93 °C.
    assert (oil.kind, oil.unit, oil.shelf_life_days, oil.flash_point_mc, oil.maximum_load_ppm, oil.maximum_load_basis) == (
        "fragrance", "g", 540, 93_000, 100_000, "of_melt",
    )  # fmt: skip
    assert (oil.place, oil.notes) == ("Shelf A3", "Smells of autumn")
    assert Item.objects.get(name="House blend").made_here
    assert (Item.objects.get(name="Amber tin").kind, Item.objects.get(name="Amber tin").unit) == (
        "vessel",
        "each",
    )
    assert Item.objects.filter(name__iexact="amber jar 220 g").count() == 1
    assert list(Import.objects.order_by("pk").values_list("table", "rows", "added")) == [
        ("suppliers", 2, 1),
        ("items", 4, 3),
    ]


def test_a_known_name_with_other_values_is_reported_and_stays(books):
    plan = plan_of(
        books,
        "items",
        "Name,Kind,Unit,Usual place\nSoy-type container wax,wax,kg,Cellar\namber jar 220 g,vessel,each,\n",
    )

    assert [(each.row, each.column, each.typed, each.sentence) for each in plan.differs] == [
        (2, "Unit", "kg", "Soy-type container wax has g here, and keeps it."),
        (2, "Usual place", "Cellar", "Soy-type container wax has Floor F1 here, and keeps it."),
    ]
    assert (plan.known, plan.new, plan.problems) == (2, [], [])


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        (",wax,g,", "Name", "Fill this in."),
        ("Moor wax,,g,", "Kind", "Fill this in."),
        ("Moor wax,marzipan,g,", "Kind", "Write one of: wax, fragrance"),
        ("Moor wax,wax,each,", "Unit", "are weighed"),
        ("Moor wax,wax,litres,", "Unit", "volume"),
        ("Moor wax,wax,dozen,", "Unit", "Write one of: g, kg"),
        ("Moor wick,wick,g,", "Unit", "counted or measured"),
        (f"{'x' * 121},wax,g,", "Name", "At most 120"),
        ("Moor wax,wax,g,8 %", "Load is a share of", "of wax or of melt"),
        ("Moor wax,wax,g,lots", "Maximum load", "percentage"),
    ],
)
def test_an_item_that_cannot_be(books, row, column, sentence):
    (problem,) = plan_of(books, "items", f"Name,Kind,Unit,Maximum load\n{row}\n").problems

    assert problem.column == column
    assert sentence in problem.sentence


def test_one_name_twice_in_a_file(books):
    same = plan_of(books, "suppliers", "Name,Contact\nMoor Glass,Ida\nmoor glass,Ida\n")
    other = plan_of(books, "suppliers", "Name,Contact\nMoor Glass,Ida\nMoor Glass,Ada\n")

    # The second is written otherwise, and so says something else.
    assert [problem.row for problem in same.problems] == [3]
    assert [problem.sentence for problem in other.problems] == [
        "Row 2 has this name already, with other values."
    ]
    assert plan_of(books, "suppliers", "Name,Contact\nMoor Glass,Ida\nMoor Glass,Ida\n").known == 1


@pytest.mark.parametrize("typed", ["not an address", "two@x.example; three@x.example"])
def test_an_e_mail_address_must_be_one(books, typed):
    (problem,) = plan_of(books, "suppliers", f"Name,E-mail\nMoor Glass,{typed}\n").problems

    assert problem.sentence == "This is not an e-mail address."


# Offers

WAX = f"{SCENT},Soy-type container wax"
UNLIKE = [f"{WAX},20 kg,89,,2026-01-12,2026-06-01", f"{WAX},20 kg,84,6,2026-01-12,2026-07-01"]


def test_rows_of_one_quotation_are_one_offer_with_its_prices(books):
    text = (
        "Supplier,Item,Pack,Price of a pack,From packs,Quoted on,Lead time,Article number\n"
        f"{WAX},20 kg,84.90,6,2026-01-12,6,SW-20\n"
        f"{WAX},20 kg,$89.40,,2026-01-12,,\n"
        f"{WAX},10 kg,46,,2026-01-12,,\n"
    )
    run = books.bring_in("offers", text)

    assert (run.rows, run.added) == (3, 2)
    offer = Offer.objects.get(pack_quantity=grams(20_000))
    assert list(offer.breaks.values_list("from_packs", "price")) == [(1, money("89.40")), (6, money("84.90"))]
    assert (offer.typed_pack, offer.lead_days, offer.supplier_code, offer.quoted_on) == (
        "20 kg",
        6,
        "SW-20",
        date(2026, 1, 12),
    )
    assert (offer.by, offer.recorded_at) == (books.by, NOW)

    again = plan_of(books, "offers", text)
    assert (again.known, again.new) == (3, [])
    # Another price on the same day is another offer.
    assert plan_of(books, "offers", text.replace("46", "45")).new_rows == 1


@pytest.mark.parametrize(
    ("rows", "row", "column", "sentence"),
    [
        ([f"{WAX},20 kg,84.90,6,2026-01-12,"], 2, "From packs", "Nothing says what 1 to 5 packs cost"),
        ([f"{WAX},20 kg,89,,2026-01-12,", f"{WAX},20 kg,84,,2026-01-12,"], 3, "From packs", "from 1 is there already"),
        ([f"{WAX},20 kg,0,,2026-01-12,"], 2, "Price of a pack", "above zero"),
        ([f"{WAX},20 kg,89,,2026-03-21,"], 2, "Quoted on", "future"),
        ([f"{WAX},20 kg,89,,2026-01-12,2026-01-11"], 2, "Valid until", "ended before it was quoted"),
        ([f"{WAX},20 kg,89,0,2026-01-12,"], 2, "From packs", "whole number from 1"),
        (UNLIKE, 3, "Valid until", "says something else"),
    ],
)  # fmt: skip
def test_an_offer_that_cannot_be(books, rows, row, column, sentence):
    heads = "Supplier,Item,Pack,Price of a pack,From packs,Quoted on,Valid until\n"
    problem = plan_of(books, "offers", heads + "\n".join(rows) + "\n").problems[0]

    assert (problem.row, problem.column) == (row, column)
    assert sentence in problem.sentence


def test_a_price_that_rises_with_the_packs_is_pointed_at(books):
    heads = "Supplier,Item,Pack,Price of a pack,From packs,Quoted on\n"
    plan = plan_of(books, "offers", f"{heads}{WAX},20 kg,80,,2026-01-12\n{WAX},20 kg,85,6,2026-01-12\n")

    assert plan.ready
    assert [(notice.row, notice.column) for notice in plan.notices] == [(3, "Price of a pack")]


def test_the_shapes_name_no_unit_column_as_needed():
    for shape in (LOTS, MOVEMENTS, OFFERS):
        assert not shape.column("unit").needed


def test_check_books_notices_a_row_that_moves_nothing_and_one_that_is_missing(books, oil):
    run, other = Import.objects.get(), books.receive("wax", "1 kg", cost=5)
    guards.remove()
    Import.objects.update(added=2)
    assert list(imports_fit()) == [f"Import {run.pk} added 2 rows and 1 are on record."]

    ImportedRow.objects.create(key="x" * 64, run=run, posting=Posting.objects.get(kind="opening"), lot=other)
    opening = Posting.objects.get(kind="opening").pk
    (sentence,) = imports_fit()
    assert sentence == f"A row of a table is about lot {other.code}, and posting {opening} does not move it."
