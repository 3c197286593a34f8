"""What open runs have still to bring: the week, orders and the buying pages are told the same. Worked by hand."""

import pytest

from batches.models import Batch
from batches.planning.for_orders import being_made
from batches.planning.sales_order_demand import materials_of_orders
from batches.planning.week import monday, week_of
from batches.planning.week_projection import Step
from tests.house import TODAY, day, grams

pytestmark = pytest.mark.django_db


def still(*batches):
    rows = Batch.objects.filter(pk__in=[batch.pk for batch in batches]).with_still_to_come()
    return [dict(rows.values_list("pk", "still_to_come"))[batch.pk] for batch in batches]


def test_what_came_out_in_any_shape_is_no_longer_to_come(books, shelf, version):
    """Of ten 3 good, 1 second and 2 scrap came out; of another ten all and two more; a third was taken back again."""
    runs = [books.plan(version, 10) for _ in range(4)]
    for run in runs[:3]:
        books.fill(shelf, run, at=day(10))
    books.finish(runs[0], 3, 1, {"Underfilled": 2}, at=day(11), last=False)
    books.finish(runs[1], 12, at=day(11), last=False)
    books.finish(runs[2], 4, at=day(11), last=False)
    books.undo(runs[2])

    assert still(*runs) == [4, 0, 10, 10]


def test_the_week_the_orders_and_the_buying_pages_agree(books, shelf, version):
    """A run of ten for an order of 24 gave 3 good, 1 second and 2 scrap: 4 to come. One of ten for the shelf gave 5 that
    wait for their release: 5 to come. Of 24 3 are ready, 5 wait, 4 and 5 are to come: materials are wanted for 7."""
    product = version.formula.item
    order = books.order_of("Moor & Mill", (product.name, 24))
    books.order_of("Wilf Harrow", (books.candle("Quince Orchard").formula.item.name, 1))
    for_order, for_shelf = books.plan(version, 10, order=order), books.plan(version, 10)
    for run in (for_order, for_shelf):
        books.fill(shelf, run, at=day(10))
    books.finish(for_order, 3, 1, {"Underfilled": 2}, at=day(11), last=False)
    books.finish(for_shelf, 5, at=day(11), last=False, release=False)

    assert still(for_order, for_shelf) == [4, 5]
    line = order.lines.get()
    assert being_made([line.pk]) == {line.pk: 4}
    wicks = shelf["wick"].item_id
    taken = [quantity for item_id, _, quantity in materials_of_orders(TODAY) if item_id == wicks]
    assert sorted(taken) == [1, 7]


def test_the_week_counts_on_a_blend_for_no_more_than_is_still_to_come(books, shelf):
    """Of 1,000 g of blend 600 g came out good and 100 g as seconds; 300 g are still to come, not 400 g."""
    blend = books.formula("blend", [("wax", "wax_share", 1_000_000)])
    run = books.plan(blend, grams(1_000))
    books.draw_into(run, (shelf["wax"], "1 kg"), at=day(10))
    books.finish(run, grams(600), grams(100), at=day(11), last=False)
    candle = books.plan(books.formula("tealight", [("blend", "wax_share", 1_000_000)], fill="50 g"), 4)

    (material,) = [
        each for each in week_of(monday(TODAY), today=TODAY).materials if each.item.name == "blend"
    ]

    events = [(row.after.event.step, row.after.event.quantity) for row in material.rows]
    assert sorted(events) == sorted([(Step.MADE, grams(300)), (Step.NEEDED, grams(200))])
    assert still(run, candle) == [grams(300), 4]
