"""Cases, rolls and reams on deliveries and purchase orders: asked once, and remembered for that supplier's item."""

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse

from inventory.models import DeliveryLine, Lot, Order, PackContent, Supplier
from inventory.purchasing import offers
from inventory.purchasing.pack_contents import PackLine, known_packs, remember
from studio.core.quantities import Packed
from studio.people.signature import Signature
from tests.house import day, grams
from tests.web.conftest import enter
from tests.web.forms import ADD, delivery, key, line, nothing_moves, refused


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def said(answer):
    return [str(message).replace("\N{NO-BREAK SPACE}", " ") for message in get_messages(answer.wsgi_request)]


def newest():
    return DeliveryLine.objects.latest("pk")


def test_cases_ask_what_is_in_one_keep_what_was_typed_and_are_remembered(filled, maker):
    with nothing_moves():
        page = maker.post(ADD, delivery(filled, line(filled, "vessel", each="4 cases")))
        form = page.context["lines"].forms[0]
        refused(page, form, "in_one", "How many are in one case?", typed=["4 cases"])
        assert "lines-0-in_one" in page.content.decode()
        page = maker.post(ADD, delivery(filled, line(filled, "vessel", each="4 cases", in_one="some")))
        refused(page, page.context["lines"].forms[0], "in_one", "", typed=["some"])
    assert not PackContent.objects.exists()

    answer = maker.post(ADD, delivery(filled, line(filled, "vessel", each="4 cases", in_one="24")))

    assert answer.status_code == 302
    assert "4 cases of 24 = 96 of vessel." in said(answer)
    row = newest()
    assert (row.packs, row.pack_quantity, row.typed_quantity) == (4, 24, "case of 24")
    kept = PackContent.objects.get()
    assert (kept.supplier_id, kept.item.name, kept.word, kept.quantity) == (
        filled.shelf["wax"].supplier_id,
        "vessel",
        "case",
        24,
    )
    # The next time nobody is asked.
    answer = maker.post(ADD, delivery(filled, line(filled, "vessel", each="2 cases")))
    assert "2 cases of 24 = 48 of vessel." in said(answer)
    assert newest().packs * newest().pack_quantity == 48
    assert PackContent.objects.count() == 1


@pytest.mark.parametrize(
    ("each", "in_one", "sentence"),
    [
        ("4", "24", "4 names no packs, so this is not counted in. Write what they are, for example 4 cases"),
        ("4 boxes of 10", "24", "The quantity says 4 boxes of 10, and this says 24. Correct one of them."),
        ("box of 10", "24", "The quantity says 1 box of 10, and this says 24. Correct one of them."),
    ],
)
def test_what_is_in_one_is_asked_about_where_the_line_says_otherwise(filled, maker, each, in_one, sentence):
    with nothing_moves():
        page = maker.post(ADD, delivery(filled, line(filled, "vessel", each=each, in_one=in_one)))

    refused(page, page.context["lines"].forms[0], "in_one", sentence, typed=[each, in_one])
    assert not PackContent.objects.exists()
    assert maker.post(ADD, delivery(filled, line(filled, "vessel", each=each, in_one=""))).status_code == 302


@pytest.mark.parametrize(("each", "quantity"), [("24", 24), ("2 dozen", 24), ("4 cases of 24", 96)])
def test_what_is_in_one_may_be_said_twice_alike(filled, maker, each, quantity):
    assert (
        maker.post(ADD, delivery(filled, line(filled, "vessel", each=each, in_one="24"))).status_code == 302
    )
    assert newest().packs * newest().pack_quantity == quantity


def test_another_item_or_another_supplier_is_asked_for_itself(filled, maker):
    maker.post(ADD, delivery(filled, line(filled, "vessel", each="4 cases", in_one="24")))
    other = Supplier.objects.create(name="Sallow Wharf")

    for data in (
        delivery(filled, line(filled, "wick", each="4 cases")),
        delivery(filled, line(filled, "vessel", each="4 cases"), supplier=str(other.pk)),
        delivery(filled, line(filled, "vessel", each="4 boxes")),
    ):
        page = maker.post(ADD, data)
        refused(page, page.context["lines"].forms[0], "in_one", "How many are in one")


def test_what_is_said_later_counts_from_then_and_the_row_before_stays(filled, maker):
    maker.post(ADD, delivery(filled, line(filled, "vessel", each="4 cases", in_one="24")))
    maker.post(ADD, delivery(filled, line(filled, "vessel", each="1 case of 12")))

    maker.post(ADD, delivery(filled, line(filled, "vessel", each="3 cases")))

    assert newest().packs * newest().pack_quantity == 36
    assert list(PackContent.objects.values_list("quantity", flat=True)) == [24, 12]


def test_a_quote_goes_before_what_was_said_on_earlier_days(filled, maker):
    """24 on the 20th; a quote of the 22nd says 12, one of the 10th that is entered later 6, a delivery of the 25th 18."""
    vessel = filled.books.item("vessel")
    supplier = filled.shelf["wax"].supplier

    def quote(case, quoted_on, entered_at):
        offers.enter_offer(
            supplier=supplier,
            item=vessel,
            pack_quantity=case,
            typed_pack=f"case of {case}",
            breaks=[offers.Break(1, 3_000_000)],
            quoted_on=quoted_on.date(),
            signature=Signature(filled.people.owner, entered_at, entered_at),
        )
        return known_packs(supplier.pk)[vessel.pk]["case"]

    def delivered(case, at):
        line = PackLine(vessel, Packed(1, "case", case), was_said=True)
        remember(supplier, [line], signature=Signature(filled.people.owner, at, at))
        return known_packs(supplier.pk)[vessel.pk]["case"]

    maker.post(ADD, delivery(filled, line(filled, "vessel", each="1 case of 24")))
    assert known_packs(supplier.pk)[vessel.pk]["case"] == 24
    assert quote(12, day(22), day(22)) == 12
    assert quote(6, day(10), day(23)) == 12
    assert delivered(18, day(25)) == 18
    # Said again where it was known: a quote of the day before changes nothing.
    assert delivered(18, day(27)) == 18
    assert quote(30, day(26), day(28)) == 18


def test_a_weighed_items_cases_ask_for_the_weight_in_one(filled, maker):
    page = maker.post(ADD, delivery(filled, line(filled, "wax", each="4 cases")))
    refused(page, page.context["lines"].forms[0], "in_one", "What does one case weigh?")

    maker.post(
        ADD, delivery(filled, line(filled, "wax", each="4 cases", in_one="2.5 kg", price="12 per pack"))
    )

    row = newest()
    assert (row.packs, row.pack_quantity, row.goods_value) == (4, grams(2500), 48_000_000)
    assert Lot.objects.filter(delivery_line=row).get().on_hand == grams(10_000)


def test_a_gross_is_booked_as_a_gross(filled, maker):
    maker.post(ADD, delivery(filled, line(filled, "vessel", each="1 gross")))

    assert newest().packs * newest().pack_quantity == 144
    assert not PackContent.objects.exists()


def test_a_purchase_order_asks_and_remembers_as_well(filled, maker):
    supplier = filled.shelf["wax"].supplier_id
    vessel = filled.books.item("vessel").pk
    data = {
        "supplier": str(supplier),
        "note": "",
        "expected_on": "",
        "lines-TOTAL_FORMS": "1",
        "lines-INITIAL_FORMS": "0",
        "lines-0-item": str(vessel),
        "lines-0-packs": "1",
        "lines-0-each": "4 cases",
        "lines-0-supplier_code": "",
    }
    url = reverse("inventory:order-add")
    page = maker.post(url, data | {"submission_key": key()})
    refused(page, page.context["lines"].forms[0], "in_one", "How many are in one case?", typed=["4 cases"])

    answer = maker.post(url, data | {"submission_key": key(), "lines-0-in_one": "24"})

    assert answer.status_code == 302
    (row,) = Order.objects.latest("pk").lines.all()
    assert (row.packs, row.pack_quantity, row.typed_pack) == (4, 24, "case of 24")
    maker.post(ADD, delivery(filled, line(filled, "vessel", each="2 cases")))
    assert newest().packs * newest().pack_quantity == 48
