"""Decanting, taking out and putting right, through the pages."""

import pytest

from inventory.lots import holding
from inventory.models import Lot, Posting, Reason
from tests.house import grams, money
from tests.web.forms import key, nothing_moves, refused

pytestmark = pytest.mark.django_db


def page(lot, what):
    return f"/stock/lots/{lot.code}/{what}/"


def pouring(*rows, **form):
    """Everything the decanting page sends."""
    fields = {"jars-TOTAL_FORMS": str(len(rows)), "jars-INITIAL_FORMS": "0", "submission_key": key(), **form}
    for number, row in enumerate(rows):
        fields |= {f"jars-{number}-{name}": value for name, value in {"count": "1", **row}.items()}
    return fields


def taking(kind, words, **fields):
    """Everything the pages send that ask for a reason."""
    return {"reason": str(Reason.objects.get(kind=kind, words=words).pk), "submission_key": key(), **fields}


def seen(browser, lot):
    """What the page carries of how the lot stood."""
    return {"seen": browser.get(page(lot, "adjust")).context["form"]["seen"].value()}


@pytest.fixture
def pail(filled):
    return filled.books.receive("fragrance", "10 kg", cost="300.00", supplier_lot="SF-99")


def test_a_pail_is_decanted_into_jars_that_each_get_a_code(owner_page, pail):
    answer = owner_page.post(
        page(pail, "decant"),
        pouring(
            {"count": "3", "each": "500 g", "container": "jar", "place": "Shelf A"},
            {"each": "1,500", "tare": "310"},
            {"each": ""},
        ),
        follow=True,
    )

    made = Lot.objects.filter(item=pail.item, pk__gt=pail.pk).order_by("pk")
    assert [(jar.on_hand, jar.container, jar.place, jar.tare_ug) for jar in made] == [
        *[(grams(500), "jar", "Shelf A", None)] * 3,
        (grams(1500), "", "", grams(310)),
    ]
    assert all(f'value="{jar.code}"' in answer.content.decode() for jar in made)
    pail.refresh_from_db()
    assert pail.on_hand == grams(7000)
    shown = owner_page.get(pail.get_absolute_url()).content.decode()
    assert all(f'value="{jar.code}"' in shown for jar in made)


def test_two_lots_are_poured_together_by_the_code_of_the_second(filled, owner_page, pail):
    other = filled.books.receive("fragrance", "1 kg", cost="40.00")

    owner_page.post(
        page(pail, "decant"), pouring({"each": "1.5 kg"}, also_code=other.spaced_code, also_amount="500 g")
    )

    mixed = Lot.objects.latest("pk")
    assert (mixed.on_hand, mixed.value) == (grams(1500), money("50.00"))


@pytest.mark.parametrize(
    ("row", "field", "says"),
    [
        ({"each": "-1 kg"}, "each", "minus sign"),
        ({"each": "1,5 kg"}, "each", "with a point"),
        ({"each": "3 pcs"}, "each", "weigh"),
        ({"each": "1 kg", "count": "51"}, "count", "50"),
        ({"each": "1 kg", "tare": "heavy"}, "tare", "number"),
    ],
)
def test_a_container_is_refused_at_its_field(owner_page, pail, row, field, says):
    with nothing_moves():
        answer = owner_page.post(page(pail, "decant"), pouring(row))

    refused(answer, answer.context["lines"].forms[0], field, says, typed=[row[field]])


@pytest.mark.parametrize(
    ("form", "field", "says"),
    [
        ({"also_code": "L00 01"}, "also_code", "not a lot code"),
        ({"also_amount": "5 g"}, "also_code", "code of the second lot"),
        ({"happened_at": "2026-03-01T08:00"}, "happened_at", "arrived on"),
        ({"happened_at": "2027-03-01T08:00"}, "happened_at", "future"),
    ],
)
def test_the_rest_of_a_decanting_is_refused_at_its_field(owner_page, pail, form, field, says):
    with nothing_moves():
        answer = owner_page.post(page(pail, "decant"), pouring({"each": "1 kg"}, **form))

    refused(answer, answer.context["form"], field, says)


def test_a_pail_that_gives_more_than_it_held_is_asked_about(owner_page, pail):
    with nothing_moves():
        answer = owner_page.post(page(pail, "decant"), pouring({"each": "10.1 kg"}))
    assert answer.status_code == 422
    assert "tick to book 100" in answer.content.decode()

    owner_page.post(page(pail, "decant"), pouring({"each": "10.1 kg"}, found="on"))

    assert Lot.objects.latest("pk").on_hand == grams(10_100)


def test_an_expired_lot_is_thrown_away_with_its_reason(filled, owner_page):
    lot = filled.expired

    owner_page.post(
        page(lot, "write-off"), taking("scrap", "Past its date", quantity="300", note="smelt of paint")
    )

    lot.refresh_from_db()
    posting = Posting.objects.latest("pk")
    assert (lot.on_hand, posting.kind, posting.reason) == (0, "scrap", "Past its date: smelt of paint")
    assert "Expired" not in owner_page.get(lot.get_absolute_url()).content.decode()


def test_more_than_there_is_can_be_thrown_away_only_as_found(filled, owner_page):
    with nothing_moves():
        answer = owner_page.post(
            page(filled.expired, "write-off"), taking("scrap", "Past its date", quantity="310 g")
        )

    refused(answer, answer.context["form"], "quantity", "tick to book 10", typed=["310 g"])


def test_a_reason_for_something_else_is_not_taken(filled, owner_page):
    with nothing_moves():
        answer = owner_page.post(
            page(filled.expired, "write-off"), taking("found", "Miscounted earlier", quantity="1 g")
        )

    refused(answer, answer.context["form"], "reason", "from the list")


def test_a_delivery_keyed_in_kilograms_is_put_right_in_pounds(owner_page, pail):
    reason = taking("correction", "Delivery entered in the wrong unit", on_hand="10 lb")
    owner_page.post(page(pail, "adjust"), reason | seen(owner_page, pail))

    pail.refresh_from_db()
    assert (pail.on_hand, pail.value) == (4_535_923_700, money("300.00"))  # 10 lb, exactly


@pytest.mark.parametrize(
    ("kind", "words"), [("correction", "Delivery mis-keyed"), ("found", "Miscounted earlier")]
)
def test_what_left_since_the_page_was_opened_is_asked_about(filled, owner_page, pail, kind, words):
    """11 kg were there of 10 by the books; 3 kg go before the press: 8 are right, and 11 would book them back."""
    sent = taking(kind, words, on_hand="11 kg") | seen(owner_page, pail)
    filled.books.draw(pail, "3 kg")
    with nothing_moves():
        answer = owner_page.post(page(pail, "adjust"), sent)

    refused(answer, answer.context["form"], "on_hand", "books hold 7,000", "press again", typed=["11 kg"])
    carried = {"seen": answer.context["form"]["seen"].value(), "submission_key": key(), "on_hand": "8 kg"}
    assert owner_page.post(page(pail, "adjust"), sent | carried).status_code == 302
    pail.refresh_from_db()
    assert pail.on_hand == grams(8000)


@pytest.mark.parametrize(
    ("kind", "words", "on_hand", "says"),
    [
        ("found", "Miscounted earlier", "9 kg", "Found is more than that"),
        ("correction", "Delivery mis-keyed", "10 kg", "exactly this"),
        ("correction", "Delivery mis-keyed", "0", "above zero"),
        ("correction", "Delivery mis-keyed", "900 kg", "not expected"),
    ],
)
def test_what_cannot_be_right_is_refused(owner_page, pail, kind, words, on_hand, says):
    with nothing_moves():
        sent = taking(kind, words, on_hand=on_hand) | seen(owner_page, pail)
        answer = owner_page.post(page(pail, "adjust"), sent)

    refused(answer, answer.context["form"], "on_hand", says, typed=[on_hand])


def test_what_is_held_stays_held_in_the_jar(filled, owner_page, pail):
    holding.hold(pail.pk, signature=filled.books.sign(reason="Cloudy"))

    owner_page.post(page(pail, "decant"), pouring({"each": "1 kg"}))

    assert Lot.objects.latest("pk").held


def test_the_owner_keeps_the_list_of_reasons(owner_page, filled):
    owner_page.post("/stock/reasons/add/", {"kind": "scrap", "words": "Dropped", "submission_key": key()})
    assert "Dropped" in owner_page.get(page(filled.shelf["wax"], "write-off")).content.decode()

    again = owner_page.post(
        "/stock/reasons/add/", {"kind": "scrap", "words": "dropped", "submission_key": key()}
    )
    assert again.status_code == 422
    assert "on the list already" in again.content.decode()

    reason = Reason.objects.get(words="Dropped")
    change = {"kind": "scrap", "words": "Dropped", "retired": "on", "submission_key": key()}
    owner_page.post(f"/stock/reasons/{reason.pk}/", change)
    assert "Dropped" not in owner_page.get(page(filled.shelf["wax"], "write-off")).content.decode()
