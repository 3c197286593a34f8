"""Purchase orders: what a draft takes from offers, what happens to it, and that its state follows the deliveries."""

from datetime import date, datetime, timedelta
from types import SimpleNamespace

import pytest
from django.db import IntegrityError, transaction

from inventory import checks
from inventory.items.stock import items_with_stock
from inventory.models import DeliveryLine, Order, OrderLine, Supplier
from inventory.purchasing import checks as order_checks
from inventory.purchasing import ordering
from inventory.purchasing.ordering import OrderError, Total, standing_words, total_of
from inventory.purchasing.purchase_order_text import lacking_words
from studio import guards
from studio.core.codes import is_valid
from studio.core.money import MONEY_LIMIT
from tests.house import NOW, TODAY, day, grams, money, refused, settle

pytestmark = pytest.mark.django_db


def fresh(order):
    return Order.objects.with_progress().get(pk=order.pk)


def prices(order):
    return list(order.lines.order_by("pk").values_list("packs", "price", "offer"))


# Writing it


def test_a_price_left_out_is_the_offers_at_that_quantity(books):
    offer = books.offer("fragrance", "2.5 kg", (1, 132), (4, 124), (10, "118.50"), supplier_code="RS-25")

    order = books.order(
        ("fragrance", 3, "2.5 kg"),
        ("fragrance", 4, "2.5 kg"),
        ("fragrance", 12, "2.5 kg"),
        ("fragrance", 12, "2.5 kg", "120"),
        ("fragrance", 1, "10 kg"),
    )

    assert prices(order) == [
        (3, money(132), offer.pk),
        (4, money(124), offer.pk),
        (12, money("118.50"), offer.pk),
        (12, money(120), None),  # typed: not the offer's
        (1, None, None),  # no offer of ten kilograms: not known, and not nothing
    ]
    assert [line.supplier_code for line in order.lines.order_by("pk")] == ["RS-25"] * 4 + [""]
    # 3 × 132 + 4 × 124 + 12 × 118.50 + 12 × 120 = 396 + 496 + 1422 + 1440.
    assert total_of(order.lines.all()) == Total(money(3_754), 1)
    assert lacking_words(1) == "1 line has no price and is not in the total."
    assert lacking_words(0) == ""


def test_a_line_is_rounded_to_the_cent_once(books):
    # 3 × 0.0333 = 0.0999: ten cents, on the line of a document.
    order = books.order(("wick", 3, 10, "0.0333"), ("wick", 1, 10, "0.005"))

    assert total_of(order.lines.all()) == Total(money("0.11"), 0)


def test_below_the_least_and_after_its_last_day_an_offer_gives_no_price(books):
    books.offer("fragrance", "2.5 kg", (4, 124), minimum_packs=4)
    books.offer("wax", "20 kg", (1, 89), valid_until=date(2026, 3, 19))

    assert [
        price for _, price, _ in prices(books.order(("fragrance", 3, "2.5 kg"), ("wax", 1, "20 kg")))
    ] == [
        None,
        None,
    ]


def test_the_offer_of_another_supplier_gives_no_price(books):
    books.offer("wax", "20 kg", (1, 89), supplier=Supplier.objects.create(name="Brine Lane Oils"))

    assert prices(books.order(("wax", 1, "20 kg"))) == [(1, None, None)]


def test_the_day_it_is_expected_follows_from_the_longest_lead_time(books):
    supplier = books.supplier()
    assert books.order(("wax", 1, "20 kg")).expected_on is None
    supplier.lead_days = 6
    supplier.save()
    books.offer("fragrance", "2.5 kg", (1, 132), lead_days=9)

    assert books.order(("wax", 1, "20 kg")).expected_on == TODAY + timedelta(days=6)
    assert books.order(("wax", 1, "20 kg"), ("fragrance", 1, "2.5 kg")).expected_on == TODAY + timedelta(
        days=9
    )
    assert books.order(("wax", 1, "20 kg"), expected=date(2026, 4, 30)).expected_on == date(2026, 4, 30)


def test_the_day_it_is_expected_is_that_of_real_deliveries_where_there_are_enough(books):
    """Three orders of wax took 17, 10 and 9 days, 12 on average, where six are stated. Wicks were never ordered, but three
    orders of the supplier took as long."""
    supplier = books.supplier()
    supplier.lead_days = 6
    supplier.save()
    for sent in (day(3), day(10), day(11)):
        books.bring(books.order(("wax", 1, "1 kg"), sent=sent), (0, "1 kg"))
    wanted = books.order(("wick", 1, "250"))

    assert wanted.expected_on == TODAY + timedelta(days=12)
    item, lead = ordering.lead_for(supplier, wanted.lines.select_related("item"), TODAY)
    assert (item.name, lead.days, lead.said) == (
        "wick",
        12,
        "3 deliveries of this supplier, whatever came",
    )


def test_codes_are_orders_own_and_carry_a_check(books):
    first, second = books.order(("wax", 1, "20 kg")), books.order(("wax", 1, "20 kg"))

    assert first.code[0] == second.code[0] == "P"
    assert first.code != second.code
    assert is_valid(first.code)
    assert is_valid(second.code)


def test_nothing_to_order_is_no_order(books):
    with refused(OrderError, "Order at least one thing"):
        ordering.draft(supplier=books.supplier(), wanted=[], signature=books.sign())


def test_a_line_dearer_than_can_be_kept_is_refused(books):
    item = books.item("wax")
    wanted = ordering.LineRequest(item, 10_000, grams(1), "1 g", price=MONEY_LIMIT)
    with refused(OrderError, "more than 1,000,000,000"):
        ordering.draft(supplier=books.supplier(), wanted=[wanted], signature=books.sign())


def test_a_draft_is_written_anew(books):
    order = books.order(("wax", 1, "20 kg", 89), ("wick", 2, 250, 24))
    before = ordering.fingerprint(order)
    other = Supplier.objects.create(name="Brine Lane Oils")

    ordering.change(
        order.pk,
        supplier=other,
        wanted=[books.wanted("wick", 3, 250, 24)],
        note="Ring first.",
        expected_on=date(2026, 4, 1),
        signature=books.sign(),
    )

    order.refresh_from_db()
    assert (order.supplier, order.note, order.expected_on) == (other, "Ring first.", date(2026, 4, 1))
    assert prices(order) == [(3, money(24), None)]
    assert ordering.fingerprint(order) != before


# Sending and ending


def test_sending_keeps_name_and_time_and_the_day_it_is_expected(books):
    order = books.order(("wax", 1, "20 kg"))

    ordering.send(order.pk, signature=books.sign(day(18, 15)), expected_on=date(2026, 3, 24))

    order.refresh_from_db()
    assert (order.state, order.sent_by, order.sent_at) == ("sent", books.by, day(18, 15))
    assert order.expected_on == date(2026, 3, 24)


def test_what_is_sent_is_not_sent_or_changed_again(books):
    order = books.order(("wax", 1, "20 kg"), sent=day(18))

    with refused(OrderError, "is sent; only a draft is sent"):
        ordering.send(order.pk, signature=books.sign())
    with refused(OrderError, "nothing on it changes now"):
        ordering.change(
            order.pk,
            supplier=books.supplier(),
            wanted=[books.wanted("wax", 2, "20 kg")],
            signature=books.sign(),
        )


def test_it_is_not_sent_in_the_future_nor_expected_before(books):
    order = books.order(("wax", 1, "20 kg"))
    tomorrow = SimpleNamespace(happened_at=NOW + timedelta(days=1), recorded_at=NOW, by=books.by, reason="")

    with refused(OrderError, "in the future"):
        ordering.send(order.pk, signature=tomorrow)  # type: ignore[arg-type]
    with refused(OrderError, "cannot arrive before it was sent"):
        ordering.send(order.pk, signature=books.sign(), expected_on=TODAY - timedelta(days=1))


def test_the_database_keeps_a_sent_order_as_it_is(books):
    order = books.order(("wax", 1, "20 kg", 89), sent=day(18))
    draft = books.order(("wick", 1, 250))
    line = order.lines.get()
    for act in (
        lambda: Order.objects.filter(pk=order.pk).update(note="Twice as much, please"),
        lambda: Order.objects.filter(pk=order.pk).update(expected_on=date(2027, 1, 1)),
        lambda: OrderLine.objects.filter(pk=line.pk).update(packs=9),
        lambda: OrderLine.objects.filter(pk=line.pk).delete(),
        lambda: OrderLine.objects.filter(order=draft).update(order=order),
        lambda: OrderLine.objects.bulk_create(
            [OrderLine(order=order, item=line.item, packs=1, pack_quantity=1, typed_pack="1 g")]
        ),
        lambda: order.delete(),
    ):
        with pytest.raises(IntegrityError, match=r"no draft|never deleted"), transaction.atomic():
            act()


def test_a_draft_and_a_sent_order_are_called_off_with_a_reason(books):
    for order in (books.order(("wax", 1, "20 kg")), books.order(("wax", 1, "20 kg"), sent=day(18))):
        with refused(OrderError, "Say why"):
            ordering.call_off(order.pk, signature=books.sign())

        ordering.call_off(order.pk, signature=books.sign(reason="Found a pallet in the yard"))

        order.refresh_from_db()
        assert (order.state, order.ended_because) == ("called_off", "Found a pallet in the yard")
        with refused(OrderError, "called off already"):
            ordering.call_off(order.pk, signature=books.sign(reason="again"))


def test_what_came_in_part_is_closed_and_not_called_off(books):
    order = books.order(("wax", 2, "20 kg"), sent=day(18))
    with refused(OrderError, "Call it off instead"):
        ordering.close(order.pk, signature=books.sign(reason="discontinued"))
    books.bring(order, (0, "20 kg"))
    with refused(OrderError, "cannot be called off"):
        ordering.call_off(order.pk, signature=books.sign(reason="discontinued"))
    with refused(OrderError, "Say why"):
        ordering.close(order.pk, signature=books.sign(reason=" "))

    ordering.close(order.pk, signature=books.sign(reason="discontinued"))

    order.refresh_from_db()
    assert (order.state, order.ended_because, order.ended_by) == ("closed", "discontinued", books.by)
    with refused(OrderError, "is closed; only a sent one is closed"):
        ordering.close(order.pk, signature=books.sign(reason="again"))
    ordering.reopen(order.pk, signature=books.sign())
    order.refresh_from_db()
    assert (order.state, order.ended_because, order.ended_at) == ("sent", "", None)


def test_a_draft_is_not_closed(books):
    order = books.order(("wax", 2, "20 kg"))

    with refused(OrderError, "is draft; only a sent one"):
        ordering.close(order.pk, signature=books.sign(reason="x"))
    with refused(OrderError, "closed by hand"):
        ordering.reopen(order.pk, signature=books.sign())


# Goods against it


def received(order):
    lines = OrderLine.objects.filter(order=order).with_received().order_by("pk")
    return [(line.received, line.outstanding) for line in lines]


def test_what_comes_short_stays_outstanding_and_the_rest_closes_the_order(books):
    order = books.order(("wax", 3, "20 kg"), ("wick", 2, 250), sent=day(11), expected=date(2026, 3, 20))

    books.bring(order, (0, "40 kg"), (1, 500))

    assert received(order) == [(grams(40_000), grams(20_000)), (500, 0)]
    assert standing_words(fresh(order), TODAY) == ("attention", "Part received")
    assert standing_words(fresh(order), TODAY + timedelta(days=1)) == ("problem", "Overdue, part received")

    last = books.bring(order, (0, "20 kg"))

    order.refresh_from_db()
    assert (order.state, order.ended_because, order.ended_by) == ("closed", "", books.by)
    assert standing_words(fresh(order), TODAY) == ("good", "Closed")
    assert DeliveryLine.objects.get(delivery=last).order_line == order.lines.order_by("pk")[0]


def test_a_reversed_delivery_opens_the_order_it_closed(books):
    order = books.order(("wax", 2, "20 kg"), sent=day(11))
    books.bring(order, (0, "20 kg"))
    last = books.bring(order, (0, "20 kg"))
    order.refresh_from_db()
    assert order.state == "closed"

    books.reverse(last.posting)

    order.refresh_from_db()
    assert (order.state, order.ended_by, order.ended_at) == ("sent", None, None)
    assert received(order) == [(grams(20_000), grams(20_000))]
    books.bring(order, (0, "20 kg"))
    order.refresh_from_db()
    assert order.state == "closed"


def test_an_order_stays_closed_when_what_is_reversed_was_more_than_ordered(books):
    order = books.order(("wax", 1, "20 kg"), sent=day(11))
    lines = [
        books.arrival("wax", kilos, 1, order_line_id=order.lines.get().pk) for kilos in ("20 kg", "5 kg")
    ]
    extra = books.order(("wax", 1, "5 kg"), sent=day(11))
    books.deliver(*lines, at=NOW)
    other = books.bring(extra, (0, "5 kg"))

    books.reverse(other.posting)

    assert [fresh(each).state for each in (order, extra)] == ["closed", "sent"]
    assert received(order) == [(grams(25_000), 0)]


def test_an_order_closed_by_hand_stays_closed_when_its_delivery_is_reversed(books):
    order = books.order(("wax", 2, "20 kg"), sent=day(11))
    delivery = books.bring(order, (0, "20 kg"))
    ordering.close(order.pk, signature=books.sign(reason="The rest is sold out"))

    books.reverse(delivery.posting)

    order.refresh_from_db()
    assert (order.state, order.ended_because) == ("closed", "The rest is sold out")


def test_more_than_was_ordered_is_taken_and_said(books):
    order = books.order(("wax", 1, "20 kg"), sent=day(11))

    books.bring(order, (0, "22 kg"))

    assert received(order) == [(grams(22_000), 0)]
    (said,) = ordering.more_than_ordered([order.lines.get().pk])
    assert said.replace("\N{NO-BREAK SPACE}", " ") == (
        "More came than was ordered: 22,000 g of wax for 20,000 g."
    )
    assert ordering.more_than_ordered([]) == []


def test_a_line_that_was_not_ordered_comes_along(books):
    order = books.order(("wax", 1, "20 kg"), sent=day(11))
    tied = books.arrival("wax", "20 kg", 90, order_line_id=order.lines.get().pk)

    delivery = books.deliver(tied, books.arrival("wick", 50, 4), at=NOW)

    assert [line.order_line_id for line in delivery.lines.order_by("pk")] == [order.lines.get().pk, None]
    assert fresh(order).state == "closed"


@pytest.mark.parametrize(
    ("state", "words"),
    [("draft", "is draft and expects nothing"), ("called_off", "is called off"), ("closed", "is closed")],
)
def test_an_order_that_does_not_wait_takes_nothing(books, state, words):
    order = books.order(("wax", 1, "20 kg"), sent=None if state == "draft" else day(11))
    if state == "called_off":
        ordering.call_off(order.pk, signature=books.sign(reason="not needed"))
    if state == "closed":
        books.bring(order, (0, "20 kg"))

    with refused(OrderError, words):
        books.bring(order, (0, "20 kg"))


def test_a_delivery_fits_its_order_in_item_and_supplier(books):
    order = books.order(("wax", 1, "20 kg"), sent=day(11))
    elsewhere = ordering.draft(
        supplier=Supplier.objects.create(name="Brine Lane Oils"),
        wanted=[books.wanted("wax", 1, "20 kg")],
        signature=books.sign(),
    )
    ordering.send(elsewhere.pk, signature=books.sign())
    books.item("dye")

    for line, name, words in (
        (order.lines.get(), "dye", "asks for wax there"),
        (elsewhere.lines.get(), "wax", "another supplier"),
    ):
        with refused(OrderError, words):
            books.deliver(books.arrival(name, "1 kg", 1, order_line_id=line.pk), at=NOW)
    with refused(OrderError, "no longer there"):
        books.deliver(books.arrival("wax", "1 kg", 1, order_line_id=10**6), at=NOW)


# What the stock knows of it


def on_order(name):
    return items_with_stock(TODAY).get(name=name).on_order


def test_stock_counts_what_sent_orders_still_bring(books):
    books.item("wick")
    order = books.order(("wax", 3, "20 kg"), ("wax", 1, "5 kg"), sent=day(11))
    books.order(("wax", 7, "20 kg"))  # a draft is no order yet
    assert (on_order("wax"), on_order("wick")) == (grams(65_000), 0)

    # Three kilograms more than the second line asked for are not taken off the first.
    delivery = books.bring(order, (0, "20 kg"), (1, "8 kg"))

    assert on_order("wax") == grams(40_000)
    books.reverse(delivery.posting)
    assert on_order("wax") == grams(65_000)
    ordering.call_off(order.pk, signature=books.sign(reason="Found a pallet"))
    assert on_order("wax") == 0


def test_what_is_expected_comes_first_to_arrive_first(books):
    later = books.order(("wax", 1, "20 kg"), sent=day(11), expected=date(2026, 4, 2))
    never = books.order(("wax", 1, "20 kg"), sent=day(11))
    sooner = books.order(("wax", 1, "20 kg"), sent=day(11), expected=date(2026, 3, 25))
    wax, wick = books.item("wax"), books.item("wick")

    found = ordering.expected_lines([wax.pk, wick.pk])

    assert [line.order for line in found[wax.pk]] == [sooner, later, never]
    assert found[wick.pk] == []


# The proof


def test_the_books_agree_with_orders_in_every_state(books):
    books.order(("wax", 1, "20 kg"))
    ordering.call_off(books.order(("wax", 1, "20 kg")).pk, signature=books.sign(reason="not needed"))
    part = books.order(("wax", 2, "20 kg"), sent=day(11))
    books.bring(part, (0, "20 kg"))
    whole = books.order(("wax", 1, "20 kg"), sent=day(11))
    books.reverse(books.bring(whole, (0, "20 kg")).posting)
    books.bring(whole, (0, "20 kg"))
    books.offer("wax", "20 kg", (1, 89))

    assert [said for check in checks.CHECKS for said in check()] == []


@pytest.mark.parametrize("happened", [datetime(2026, 3, 11, 9, tzinfo=NOW.tzinfo)])
def test_lead_times_can_be_read_from_orders(books, happened):
    order = books.order(("wax", 1, "20 kg"), sent=happened)
    delivery = books.bring(order, (0, "20 kg"))

    line = DeliveryLine.objects.select_related("order_line__order").get(delivery=delivery)
    assert line.order_line
    assert (delivery.posting.happened_at - line.order_line.order.sent_at).days == 9


@pytest.fixture
def tampered(books):
    """An order that arrived whole, one that waits and one called off, an offer; and the guards taken away."""
    whole, waiting = (
        books.order(("wax", 1, "20 kg"), sent=day(11)),
        books.order(("wax", 2, "20 kg"), sent=day(11)),
    )
    off = books.order(("wax", 1, "20 kg"))
    ordering.call_off(off.pk, signature=books.sign(reason="not needed"))
    came = books.bring(whole, (0, "20 kg"))
    books.item("dye")
    offer = books.offer("wax", "20 kg", (1, 89))
    settle()
    guards.remove()
    return SimpleNamespace(whole=whole, waiting=waiting, off=off, line=came.lines.get(), offer=offer)


def told():
    return [said for check in order_checks.CHECKS for said in check()]


def test_an_order_whose_state_does_not_follow_is_found(tampered):
    whole, waiting, off = tampered.whole, tampered.waiting, tampered.off
    assert told() == []

    Order.objects.filter(pk=whole.pk).update(state="sent")
    Order.objects.filter(pk=waiting.pk).update(state="closed")
    Order.objects.filter(pk=off.pk).update(ended_because="")

    assert told() == [
        f"Order {whole.code} still waits, though everything on it arrived.",
        f"Order {waiting.code} is closed; not everything came, and nobody said why.",
        f"Order {off.code} is called off and nobody said why.",
    ]


def test_a_wrong_code_and_an_empty_order_are_found(tampered):
    Order.objects.filter(pk=tampered.off.pk).update(code="P00001")
    OrderLine.objects.filter(order=tampered.waiting).delete()

    assert sorted(told()) == [
        "Order P00001 has a code whose check character is wrong.",
        f"Order {tampered.waiting.code} asks for nothing.",
        f"Order {tampered.waiting.code} still waits, though everything on it arrived.",
    ]


def test_a_delivery_of_another_item_or_supplier_is_found(books, tampered):
    line = tampered.line
    odd = [f"Delivery {line.delivery_id}: line {line.pk} is not of the item or the supplier of its order."]
    OrderLine.objects.filter(pk=line.order_line_id).update(item=books.item("dye"))
    assert told() == odd

    OrderLine.objects.filter(pk=line.order_line_id).update(item=line.item)
    Order.objects.filter(pk=tampered.whole.pk).update(
        supplier=Supplier.objects.create(name="Brine Lane Oils")
    )
    assert told() == odd


def test_goods_of_an_order_never_sent_are_found(tampered):
    Order.objects.filter(pk=tampered.whole.pk).update(state="draft")

    assert told() == [f"Something came of order {tampered.whole.code}, which is a draft or was called off."]


def test_an_offer_without_a_price_from_the_least_on_is_found(tampered):
    tampered.offer.breaks.update(from_packs=2)

    assert told() == [f"Offer {tampered.offer.pk} has no price for the least that can be ordered."]
