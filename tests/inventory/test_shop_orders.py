"""A shop's own export of orders: columns and products said once, all or nothing, twice does no harm."""

import io
from datetime import date, timedelta

import pytest
from django.core.management import call_command

from inventory.checks import CHECKS
from inventory.customers import customers
from inventory.models import (
    Closing,
    Customer,
    CustomerOrder,
    Dispatch,
    Movement,
    Shop,
    ShopOrder,
    WaitingOrders,
)
from inventory.shop_files import import_service
from inventory.shop_files.import_service import NotAsShown
from inventory.shop_files.planning import plan_of
from inventory.shop_files.reading import Product, heading_row, read
from studio import server
from studio.web.reading_tables import Sheet
from tests.house import NOW, TODAY, day, refused

COLUMNS = {
    "reference": "No.",
    "product": "Title",
    "variant": "Option",
    "quantity": "Qty",
    "day": "Date",
    "customer": "Buyer",
    "email": "Mail",
}
HEAD = ["No.", "Date", "Buyer", "Mail", "Title", "Option", "Qty"]
KNOWN = {"slate tin / small": Product(7), "gift box": Product(7, 3), "card": Product(None)}


def sheet(*rows):
    made = Sheet("")
    for number, cells in enumerate([HEAD, *rows], 1):
        made.add(number, list(cells))
    return made


def understood(*rows, named=True, days="", products=KNOWN):
    return read(sheet(*rows), COLUMNS, products, days=days, today=TODAY, named=named)


def test_rows_of_one_reference_are_one_order_and_a_set_counts_its_pieces():
    """Two small tins and one box of three are five."""
    found = understood(
        ["W-1", "2026-03-18 09:12", "Ida Fennimore", "ida@post.example", "Slate tin", "small", "2"],
        ["W-1", "", "", "", "Gift box", "", "1"],
        ["W-1", "", "", "", "Card", "", "1"],
    )
    (order,) = found.orders
    assert (order.wanted, order.day, order.customer) == ({7: 5}, date(2026, 3, 18), "Ida Fennimore")
    assert order.reach == ["ida@post.example"]
    assert (found.problems, found.unknown) == ([], [])


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (["", "", "Ida", "", "Card", "", "1"], "No.", "no order reference"),
        (["W-1", "", "Ida", "", "", "", "1"], "Title", "no product"),
        (["W-1", "", "Ida", "", "Card", "", "half"], "Qty", "no number of pieces"),
        (["W-1", "", "Ida", "", "Card", "", "0"], "Qty", "no number of pieces"),
        (["W-1", "", "Ida", "", "Card", "", "-1"], "Qty", "no number of pieces"),
        (["W-1", "03/04/2026", "Ida", "", "Card", "", "1"], "Date", "two ways"),
        (["W-1", "2026-03-21", "Ida", "", "Card", "", "1"], "Date", "still to come"),
        (["W-1", "soon", "Ida", "", "Card", "", "1"], "Date", "not a day"),
        (["W-1", "", "", "", "Gift box", "", "1"], "Buyer", "Nobody is named"),
        (["W" * 61, "", "Ida", "", "Card", "", "1"], "No.", "at most 60"),
    ],
)
def test_what_is_wrong_is_named_with_its_row_and_column(row, column, words):
    (problem,) = understood(row).problems
    assert (problem.row, problem.column) == (2, column)
    assert words in problem.sentence


def test_one_order_has_one_customer():
    found = understood(["W-1", "", "Ida", "", "Card", "", "1"], ["W-1", "", "Wilf", "", "Card", "", "1"])
    assert [(each.row, each.column) for each in found.problems] == [(3, "Buyer")]


def test_products_nobody_explained_are_asked_about_once():
    # In other capitals it is the same product: two answers would write over each other.
    found = understood(
        *[["W-1", "", "Ida", "", name, "", "1"] for name in ("Blue moon", "Blue moon", "BLUE MOON")]
    )
    assert found.unknown == ["Blue moon"]


def test_a_title_above_the_headings_does_no_harm():
    made = Sheet("")
    for number, cells in enumerate([["Orders"], HEAD, ["W-1", "", "Ida", "", "Card", "", "1"]], 1):
        made.add(number, cells)
    assert heading_row(made) == (1, HEAD)


# In the books


@pytest.fixture
def tins(books):
    """Two lots of tins: four of 1 March, ten of 10 March."""
    books.item("Slate tin", kind="finished")
    return books.receive("Slate tin", 4, cost="4.00"), books.receive(
        "Slate tin", 10, cost="10.00", at=day(10)
    )


def shop(books, becomes="order"):
    made = Shop.objects.create(
        name="Web shop", columns=COLUMNS, becomes=becomes, channel=customers.channel_named("Web shop")
    )
    item = books.item("Slate tin", kind="finished")
    import_service.keep_products(made.pk, {"Slate tin": Product(item.pk)})
    return made


def waiting(books, of, *rows):
    lines = "\n".join(",".join(cells) for cells in [HEAD, *rows])
    return import_service.keep(of, "orders.csv", lines.encode(), by=books.by, now=NOW)


def bring(books, kept):
    kept.refresh_from_db()
    shown = plan_of(kept, TODAY).fingerprint
    return import_service.bring_in(kept.pk, shown=shown, signature=books.sign())


def row(reference, quantity, on="", name="Ida Fennimore", product="Slate tin"):
    return [reference, on, name, "ida@post.example", product, "", str(quantity)]


def agree():
    return [said for check in CHECKS for said in check()] == []


@pytest.mark.django_db
def test_a_file_twice_brings_its_orders_in_once(books, tins):
    kept = shop(books)
    bring(books, waiting(books, kept, row("W-1", 3), row("W-2", 2)))

    again = waiting(books, kept, row("W-1", 3), row("W-2", 2))
    plan = plan_of(again, TODAY)

    assert (plan.new, plan.known, plan.changed, plan.ready) == ([], 2, [], False)
    with refused(NotAsShown, "Look at it again"):
        bring(books, again)
    orders = CustomerOrder.objects.order_by("pk")
    assert list(orders.values_list("reference", "customer__name", "channel__name", "lines__quantity")) == [
        ("W-1", "Ida Fennimore", "Web shop", 3),
        ("W-2", "Ida Fennimore", "Web shop", 2),
    ]
    assert Customer.objects.get().reach == "ida@post.example"
    assert agree()


@pytest.mark.django_db
def test_an_order_that_changed_in_the_shop_is_told_and_stays(books, tins):
    kept = shop(books)
    bring(books, waiting(books, kept, row("W-1", 3)))
    plan = plan_of(waiting(books, kept, row("W-1", 4), row("W-3", 1)), TODAY)
    assert [order.reference for order, _ in plan.changed] == ["W-1"]
    assert [each.order.reference for each in plan.new] == ["W-3"]


@pytest.mark.django_db
def test_what_left_already_takes_lots_of_its_day_the_fewest_and_oldest(books, tins):
    """On 5 March only the first lot was there. On the 12th five more: the first has one left, the second ten."""
    first, second = tins
    kept = shop(books, "sent")
    bring(books, waiting(books, kept, row("W-2", 5, "2026-03-12"), row("W-1", 3, "2026-03-05")))
    sent = {each.reference: each for each in Dispatch.objects.all()}
    lots = {
        reference: list(each.posting.movements.values_list("lot", "quantity"))
        for reference, each in sent.items()
    }
    assert lots == {"W-1": [(first.pk, -3)], "W-2": [(second.pk, -5)]}
    assert sent["W-1"].posting.happened_at == day(5, 12)
    assert set(ShopOrder.objects.values_list("dispatch", flat=True)) == {each.pk for each in sent.values()}
    assert not WaitingOrders.objects.exists()
    assert agree()


@pytest.mark.django_db
def test_what_was_not_on_the_shelf_is_told_and_nothing_lands(books, tins):
    kept = shop(books, "sent")
    file = waiting(books, kept, row("W-1", 3, "2026-03-05"), row("W-2", 2, "2026-03-05"))
    plan = plan_of(file, TODAY)
    assert [(each.row, each.sentence[:25]) for each in plan.problems] == [(3, "1 of them were not on the")]
    with refused(NotAsShown, "Look at it again"):
        bring(books, file)
    assert not Dispatch.objects.exists()


@pytest.mark.django_db
def test_nothing_comes_in_that_nobody_saw(books, tins):
    first, _ = tins
    kept = shop(books, "sent")
    file = waiting(books, kept, row("W-1", 3, "2026-03-05"))
    shown = plan_of(file, TODAY).fingerprint
    books.send(first, 2)
    with refused(NotAsShown, "changed since"):
        import_service.bring_in(file.pk, shown=shown, signature=books.sign())
    assert Movement.objects.filter(kind="dispatched").count() == 1


@pytest.mark.django_db
def test_what_left_before_the_books_were_closed_is_told(books, tins):
    Closing.objects.create(through=date(2026, 3, 9), until=day(10, 0), by=books.by, at=NOW)
    kept = shop(books, "sent")
    plan = plan_of(waiting(books, kept, row("W-1", 3, "2026-03-05"), row("W-2", 1, "2026-03-12")), TODAY)
    assert [(each.row, each.sentence) for each in plan.problems] == [
        (2, "The books are closed up to 09 Mar 2026.")
    ]


@pytest.mark.django_db
def test_a_file_that_names_people_does_not_outlast_its_day_nor_an_erasure(books, tins):
    kept = shop(books)
    old, file = waiting(books, kept, row("W-1", 3)), waiting(books, kept, row("W-2", 1))
    WaitingOrders.objects.filter(pk=old.pk).update(at=NOW - timedelta(hours=25))

    assert list(import_service.still_waiting(NOW)) == [file]
    with refused(NotAsShown, "waited for more than a day"):
        bring(books, old)
    import_service.drop_old(NOW)
    assert list(WaitingOrders.objects.all()) == [file]

    somebody = customers.customer_named(customers.Contact("Ida Fennimore"), at=NOW)
    customers.erase(somebody.pk, signature=books.sign())
    assert not WaitingOrders.objects.exists()
    with refused(NotAsShown, "not here any more"):
        import_service.bring_in(file.pk, shown="", signature=books.sign())


@pytest.mark.django_db
def test_a_studio_that_starts_throws_old_files_away(books, tins, monkeypatch):
    for name in ("claim", "prepare", "serve"):
        monkeypatch.setattr(server, name, lambda *args: None)
    waiting(books, shop(books), row("W-1", 3))
    WaitingOrders.objects.update(at=NOW - timedelta(days=400))

    call_command("serve", stdout=io.StringIO())

    assert not WaitingOrders.objects.exists()
