"""Every lot begins alike, whichever way it came: the next code, its item's usual place, its item's shelf life."""

import ast
from datetime import date
from pathlib import Path

import pytest

from inventory.ledger import new_lots
from inventory.ledger.new_lots import NewLot
from inventory.lots import decanting, moving
from inventory.models import Lot
from inventory.shipments import dispatching
from inventory.shipments.dispatching import Back
from studio.core.codes import make_code
from tests.house import ARRIVED, day, grams, money

ROOT = Path(__file__).parents[2]
PACKAGES = ("studio", "inventory", "batches", "costing")


def calls_of(name):
    """The product's modules in which `name` is called."""
    return {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == name
    }


def named(name):
    """The product's modules in which `name` is given a value."""
    return {
        path.relative_to(ROOT).as_posix()
        for package in PACKAGES
        for path in (ROOT / package).rglob("*.py")
        for node in ast.parse(path.read_text(encoding="utf-8")).body
        if isinstance(node, ast.Assign) and name in {ast.unparse(target) for target in node.targets}
    }


def test_lots_are_made_in_one_module_and_their_prefix_stands_there():
    # A batch record without goods prints the heading of a lot that there never was.
    assert calls_of("Lot") == {"inventory/ledger/new_lots.py", "batches/records/record_text_end.py"}
    assert named("LOT_PREFIX") == {"inventory/ledger/new_lots.py"}


def test_the_whole_in_parts_per_million_stands_in_one_module():
    assert named("WHOLE") == {"studio/core/percent.py"}


@pytest.mark.django_db
def test_each_way_to_a_lot_gives_it_the_next_code_and_its_items_place(books, studio):
    """Received, imported, made, decanted and come back, once into the usual place and once into one that is named."""
    tin = books.item("Slate tin", kind="finished", place="Shelf B2")
    places = ("", "Yard")
    received = [books.receive("Slate tin", 10, cost=10, place=place) for place in places]
    for place in places:
        books.bring_in(
            "lots", f"Item,Quantity,Cost,Arrived,Place\nSlate tin,1{len(place)},2,2026-03-02,{place}\n"
        )
    imported = list(Lot.objects.filter(imported_rows__isnull=False).order_by("pk"))
    makings = [moving.Making(tin, "second", 4, money(4), place=place) for place in places]
    _, made = moving.make(makings, signature=books.sign())
    jars = [decanting.Jar(1, place=place) for place in places]
    decanted = decanting.decant(books.take((received[0], 2)), jars, signature=books.sign())
    sent = dispatching.send(books.take(*((lot, 1) for lot in received)), signature=books.sign())
    backs = [Back(lot.pk, 1, place) for lot, place in zip(received, places, strict=True)]
    returned = dispatching.take_back(sent.pk, backs, signature=books.sign(reason="Lid was loose"))

    ways = [received, imported, made, decanted, returned]
    lots = [lot for way in ways for lot in way]
    assert list(Lot.objects.order_by("pk")) == lots
    # Some numbers give no code, since a slip would turn it into another one.
    codes = [code for number in range(1, 40) if (code := make_code("L", number))]
    assert [lot.code for lot in lots] == codes[:10]
    assert [[lot.place for lot in way] for way in ways] == [["Shelf B2", "Yard"]] * 5
    assert {lot.item for lot in lots} == {tin}
    assert [lot.grade for lot in lots] == ["first"] * 4 + ["second"] * 2 + ["first"] * 4


@pytest.mark.django_db
def test_what_is_received_and_what_is_imported_expire_alike(books, studio):
    """A year from the day of arrival, unless the lot says otherwise; what has no shelf life keeps."""
    books.item("fragrance", shelf_life_days=365)
    books.item("wax")
    for name in ("fragrance", "wax"):
        books.receive(name, "1 kg", cost=10)
        books.receive(name, "1 kg", cost=10, expires_on=date(2026, 6, 1))
        books.bring_in(
            "lots",
            "Item,Quantity,Cost,Arrived,Expires\n"
            f"{name},1 kg,10,2026-03-01,\n"
            f"{name},2 kg,10,2026-03-01,2026-06-01\n",
        )

    def expiries(name):
        return list(Lot.objects.filter(item__name=name).order_by("pk").values_list("expires_on", flat=True))

    assert expiries("fragrance") == [date(2027, 3, 1), date(2026, 6, 1)] * 2
    assert expiries("wax") == [None, date(2026, 6, 1)] * 2


@pytest.mark.django_db
def test_a_lot_begins_empty_with_all_that_is_known_of_it(books):
    item = books.item("fragrance", place="Shelf A")
    everything = {
        "item": item,
        "arrived_at": ARRIVED,
        "grade": "second",
        "supplier_id": books.supplier().pk,
        "supplier_lot": "FR-88",
        "expires_on": date(2027, 3, 1),
        "ready_on": date(2026, 4, 1),
        "opened_on": date(2026, 3, 2),
        "place": "Yard",
        "container": "jar 3",
        "tare_ug": grams(310),
        "held": True,
        "awaits_release": True,
    }
    full, plain = new_lots.make([NewLot(**everything), NewLot(item=item, arrived_at=day(3))])

    full.refresh_from_db()
    assert {name: getattr(full, name) for name in everything} == everything
    plain.refresh_from_db()
    unsaid = Lot(code=plain.code, item=item, arrived_at=day(3), place="Shelf A", pk=plain.pk)
    assert {field.attname: getattr(plain, field.attname) for field in Lot._meta.fields} == {
        field.attname: getattr(unsaid, field.attname) for field in Lot._meta.fields
    }
    assert [(lot.on_hand, lot.value) for lot in (full, plain)] == [(0, 0), (0, 0)]
    assert new_lots.begin([]) == []
