"""Pages of lots of every origin, and of complaints and recalls of them: none of them may be a dead end."""

from types import SimpleNamespace

import pytest
from django.urls import reverse

from batches.models import Complaint, Recall
from batches.recalls import recalling
from inventory.lots.holding import release
from inventory.models import Lot
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from tests.web.conftest import enter
from tests.web.forms import key

# How a lot of candles, and a lot of material, can have come into the books.
CANDLES = ("good", "seconds", "returned", "returned again", "bought", "opening", "decanted")
MATERIALS = ("delivered", "opening wax", "decanted wax", "mixed", "blended", "recovered")
OF_A_LOT = (
    "inventory:lot-detail",
    "inventory:lot-change",
    "inventory:lot-hold",
    "inventory:lot-labels",
    "inventory:lot-decant",
    "inventory:lot-take-out",
    "inventory:lot-put-right",
    "inventory:lot-document-add",
    "batches:trace-code",
    "batches:trace-rows",
    "batches:trace-sheet",
)
OF_A_LOT_OF_CANDLES = ("inventory:lot-send", "batches:lot-release", "batches:jar-labels")
OF_A_COMPLAINT = (
    "batches:complaint-detail",
    "batches:complaint-change",
    "batches:complaint-settle",
    "batches:complaint-photo-add",
)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def opening(books, name: str, number: str) -> Lot:
    books.bring_in("lots", f"Item,Quantity,Cost,Arrived,Lot\n{name},6,12.60,2026-03-01,{number}\n")
    return Lot.objects.get(item__name=name)


def lots_of_every_origin(filled: SimpleNamespace) -> dict[str, Lot]:
    """A lot for each name in CANDLES and MATERIALS."""
    books = filled.books
    dispatch = filled.dispatch
    (returned,) = dispatching.take_back(dispatch.pk, [Back(filled.cured.pk, 1)], signature=books.sign())
    again = _sent_again(books, returned)
    books.item("Bought candle", kind="finished")
    bought = books.receive("Bought candle", 12, cost=30)
    books.item("Old candle", kind="finished")
    (decanted,) = books.decant((bought, 2))
    (wax,) = books.decant((filled.shelf["wax"], "300 g"))
    (mixed,) = books.decant((wax, "100 g"), (filled.shelf["wax"], "100 g"))
    return {
        "good": filled.cured,
        "seconds": filled.seconds,
        "returned": returned,
        "returned again": again,
        "bought": bought,
        "opening": opening(books, "Old candle", "OC-7"),
        "decanted": decanted,
        "delivered": filled.shelf["wax"],
        "opening wax": filled.opened,
        "decanted wax": wax,
        "mixed": mixed,
        "blended": filled.blended,
        "recovered": filled.recovered,
    }


def _sent_again(books, returned: Lot) -> Lot:
    """What came back is released, leaves once more, and comes back once more."""
    release(returned.pk, signature=books.sign(reason="As new"))
    posting = books.send(returned, 1, to="Wilf Harrow")
    (again,) = dispatching.take_back(posting.dispatch.pk, [Back(returned.pk, 1)], signature=books.sign())
    return again


@pytest.mark.parametrize("origin", CANDLES)
def test_a_complaint_about_a_candle_of_any_origin_can_be_read(filled, owner, origin):
    lot = lots_of_every_origin(filled)[origin]
    said = {"kind": "glass", "what": "It cracked.", "units": "1", "code": lot.code, "submission_key": key()}

    taken = owner.post(reverse("batches:complaint-add"), said)

    assert taken.status_code == 302, taken.content.decode()
    complaint = Complaint.objects.latest("pk")
    assert complaint.lot == lot
    for name in OF_A_COMPLAINT:
        assert owner.get(reverse(name, args=[complaint.code])).status_code == 200, name
    page = owner.get(complaint.get_absolute_url()).content.decode()
    assert reverse("batches:trace-code", args=[lot.code]) in page
    for name in ("complaint-list", "complaint-shared", "complaint-patterns"):
        assert owner.get(reverse(f"batches:{name}")).status_code == 200, name
        assert owner.get(reverse(f"batches:{name}"), {"format": "csv"}).status_code == 200, name


@pytest.mark.parametrize("origin", [*CANDLES, *MATERIALS])
def test_every_page_of_a_lot_of_any_origin_opens(filled, owner, origin):
    lot = lots_of_every_origin(filled)[origin]
    names = OF_A_LOT + (OF_A_LOT_OF_CANDLES if origin in CANDLES else ())
    for name in names:
        answered = owner.get(reverse(name, args=[lot.code]))
        # A page that a lot has no use for sends on to the lot.
        assert answered.status_code in (200, 302), (name, answered.status_code)


@pytest.mark.parametrize("origin", [*CANDLES, *MATERIALS])
def test_a_recall_of_a_lot_of_any_origin_can_be_read(filled, owner, origin):
    lot = lots_of_every_origin(filled)[origin]
    assert owner.get(reverse("batches:recall-start"), {"lot": lot.code}).status_code == 200

    recall = recalling.start([lot.pk], why="It may flare up.", signature=filled.books.sign())

    address = recall.get_absolute_url()
    for name in ("recall-detail", "recall-letters", "recall-report", "recall-close"):
        assert owner.get(reverse(f"batches:{name}", args=[recall.code])).status_code == 200, name
    for table in ("sent", "lots", "customers", "answers"):
        assert owner.get(address, {"table": table, "format": "csv"}).status_code == 200, table
    for party in recall.parties.all():
        assert owner.get(reverse("batches:recall-party", args=[recall.code, party.pk])).status_code == 200
    assert Recall.objects.filter(pk=recall.pk, lots__lot=lot).exists()
