"""To whom a shipment went, why, by which channel and order: every change is kept, and what was not changed is not."""

from datetime import timedelta

import pytest

from inventory.customers.customers import Contact, customer_named
from inventory.models import Customer, Dispatch, DispatchChange
from inventory.shipments import dispatching
from tests.house import NOW, day

pytestmark = pytest.mark.django_db

LATER = NOW + timedelta(hours=2)


@pytest.fixture
def shipments(books):
    """Two alike: ten tins came, two went to Ida and two more to Ida."""
    books.item("Slate tin", kind="finished")
    tins = books.receive("Slate tin", 10, cost=10)
    said = {"to": Contact("Ida Fennimore"), "channel": "Web shop", "reference": "W-7"}
    return [
        dispatching.send(books.take((tins, 2)), signature=books.sign(day(12)), **said),
        dispatching.send(books.take((tins, 2)), signature=books.sign(day(13)), **said),
    ]


def write(books, dispatch, **said):
    """Write the head anew: as it was, but for what is said."""
    head = {
        "to": Contact("Ida Fennimore"),
        "kind": Dispatch.Kind.SALE,
        "channel": "Web shop",
        "reference": "W-7",
    }
    signature = books.sign(LATER)
    return dispatching.write_head(dispatch.pk, **head | said, signature=signature)


def heads():
    """Of every shipment: the customer's name, why it left, the channel and the reference."""
    rows = Dispatch.objects.order_by("pk")
    return list(rows.values_list("customer__name", "kind", "channel__name", "reference"))


def changes():
    """Everything that is kept of changed heads, in the order of what it is."""
    rows = DispatchChange.objects.order_by("dispatch", "what")
    return list(rows.values_list("dispatch", "what", "before", "after", "by", "at"))


AS_SENT = ("Ida Fennimore", "sale", "Web shop", "W-7")


def test_a_head_that_is_written_again_as_it_was_keeps_nothing(books, shipments):
    write(books, shipments[0])
    write(books, shipments[0], to=Contact("  Ida   Fennimore "), channel=" web shop ", reference=" W-7 ")

    assert heads() == [AS_SENT, AS_SENT]
    assert changes() == []


def test_all_four_changes_of_a_head_are_kept_each_with_what_stood_there(books, shipments):
    first, _ = shipments

    made = write(
        books, first, to=Contact("Wilf Harrow"), kind=Dispatch.Kind.GIFT, channel="Market", reference="M-2"
    )

    ida, wilf = Customer.objects.order_by("pk")
    assert made == first
    assert heads() == [("Wilf Harrow", "gift", "Market", "M-2"), AS_SENT]
    signed = (books.by.pk, LATER)
    assert changes() == [
        (first.pk, "channel", "Web shop", "Market", *signed),
        (first.pk, "customer", f"Customer {ida.pk}", f"Customer {wilf.pk}", *signed),
        (first.pk, "order reference", "W-7", "M-2", *signed),
        (first.pk, "what it was", "Sale", "Gift", *signed),
    ]


@pytest.mark.parametrize(
    ("said", "head", "change"),
    [
        ({"to": None}, (None, *AS_SENT[1:]), ("customer", "Customer {ida}", "not on record")),
        (
            {"kind": Dispatch.Kind.SAMPLE},
            ("Ida Fennimore", "sample", "Web shop", "W-7"),
            ("what it was", "Sale", "Sample"),
        ),
        ({"channel": ""}, ("Ida Fennimore", "sale", None, "W-7"), ("channel", "Web shop", "")),
        ({"reference": " "}, ("Ida Fennimore", "sale", "Web shop", ""), ("order reference", "W-7", "")),
    ],
)
def test_one_change_of_a_head_is_kept_alone(books, shipments, said, head, change):
    _, second = shipments

    write(books, second, **said)

    assert heads() == [AS_SENT, head]
    what, before, after = change
    before = before.format(ida=shipments[0].customer_id)
    assert changes() == [(second.pk, what, before, after, books.by.pk, LATER)]


def test_what_was_not_known_of_a_shipment_is_entered_and_changed_again(books, shipments):
    first, _ = shipments
    for said in (
        {"to": None, "channel": "", "reference": ""},
        {},
        {"to": Contact("Ida Fennimore", reach="ida@fennimore.example"), "reference": "W-8"},
    ):
        write(books, first, **said)

    ida = Customer.objects.get()
    assert heads() == [("Ida Fennimore", "sale", "Web shop", "W-8"), AS_SENT]
    rows = DispatchChange.objects.order_by("pk").values_list("what", "before", "after")
    assert list(rows) == [
        ("customer", str(ida), "not on record"),
        ("channel", "Web shop", ""),
        ("order reference", "W-7", ""),
        ("customer", "not on record", str(ida)),
        ("channel", "", "Web shop"),
        ("order reference", "", "W-7"),
        ("order reference", "W-7", "W-8"),
    ]


def test_a_customer_whose_name_is_left_as_it_stands_is_not_taken_for_a_namesake(books, shipments):
    """Another Ida, reached elsewhere, came later; who is looked up by the name alone is the later one."""
    first, _ = shipments
    ida = first.customer
    customer_named(Contact("Ida Fennimore", reach="ida@fennimore.example"), at=NOW)
    other = customer_named(Contact("Ida Fennimore", reach="555 0100"), at=NOW)
    assert other != ida
    assert customer_named(Contact("Ida Fennimore"), at=NOW) == other

    write(books, first, to=Contact(" Ida  Fennimore"), reference="W-9")

    assert [row.customer for row in Dispatch.objects.order_by("pk")] == [ida, ida]
    assert [(row.dispatch, row.what) for row in DispatchChange.objects.all()] == [(first, "order reference")]
