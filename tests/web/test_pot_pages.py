"""The pages of a batch in two pots: which pot is asked, and what was off it stands on page, paper and release.

Ten candles of 100 g at 7.5 % of wax in pots of 500 g: 465 g of wax and 35 g of fragrance each. 51.6/465 = 11.1 %,
18.1/465 = 3.89 %, together 7.49 %; the wax holds at most 10 % of itself.
"""

import io

import pypdf
import pytest
from django.urls import reverse

from batches.models import Draw, Reading
from inventory.models import HoldRecord, Item, Lot
from studio.core.numerals import NBSP
from tests.house import grams
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import text_of

LINES = [
    ("wax", "wax_share", 1_000_000),
    ("fragrance", "of_wax", 75_000),
    ("wick", "per_unit", 1),
    ("vessel", "per_unit", 1),
]
ABOVE = "the load of 11.1 % of wax is above the 10 % of wax stated for wax"


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def batch(filled):
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    version = filled.books.formula("Fig in two pots", LINES, fill="100 g", pot_ug=grams(500))
    return filled.books.plan(version, 10)


@pytest.fixture
def off(filled, batch):
    books, shelf = filled.books, filled.shelf
    for pot, scent in ((1, "51.6 g"), (2, "18.1 g")):
        books.bench(batch, "draw", lot=shelf["wax"], quantity="465 g", pour=pot)
        books.bench(batch, "draw", lot=shelf["fragrance"], quantity=scent, pour=pot)
    for name in ("wick", "vessel"):
        books.draw_into(batch, (shelf[name], 10))
    books.finish(batch, 10, release=False)
    return batch


def said(page):
    return text_of(page).replace(NBSP, " ")


def test_the_plain_form_asks_for_the_pot_of_what_is_weighed_and_preselects_none(filled, maker, batch):
    wax, wick = filled.books.line(batch, "wax"), filled.books.line(batch, "wick")
    url = reverse("batches:batch-draw", args=[batch.code])
    page = maker.get(url).content.decode()

    assert f'name="line{wax}-0-pot"' in page
    assert f'name="line{wax}-1-pot"' in page
    assert f'name="line{wick}-0-pot"' not in page
    assert "Not known" in page

    row = {f"line{wax}-0-code": filled.shelf["wax"].code, f"line{wax}-0-amount": "465 g"}
    before = Draw.objects.count()
    refused = maker.post(url, {**row, f"line{wax}-0-pot": "", "happened_at": "", "submission_key": key()})
    assert "Choose the pot" in said(refused)
    assert "465 g" in refused.content.decode()
    assert Draw.objects.count() == before


@pytest.mark.parametrize(("typed", "kept"), [("2", 2), ("unknown", None)])
def test_the_pot_that_was_chosen_is_kept_and_not_known_is_an_answer(filled, maker, batch, typed, kept):
    wax = filled.books.line(batch, "wax")
    row = {
        f"line{wax}-0-code": filled.shelf["wax"].code,
        f"line{wax}-0-amount": "465 g",
        f"line{wax}-0-pot": typed,
    }

    answer = maker.post(
        reverse("batches:batch-draw", args=[batch.code]), {**row, "happened_at": "", "submission_key": key()}
    )

    assert answer.status_code == 302
    assert Draw.objects.get(batch=batch).pot == kept


@pytest.mark.parametrize(
    ("kind", "typed", "status", "kept"),
    [("pour", "", 422, 0), ("pour", "1", 302, 1), ("room", "", 302, None)],
)
def test_a_temperature_says_its_pot_but_that_of_the_room(filled, maker, batch, kind, typed, status, kept):
    data = {"kind": kind, "temperature": "20", "note": "", "at": "", "pot": typed, "submission_key": key()}

    answer = maker.post(reverse("batches:batch-read", args=[batch.code]), data)

    found = Reading.objects.filter(batch=batch).first()
    assert (answer.status_code, found.pot if found else 0) == (status, kept)


def test_page_record_and_release_say_the_same_of_two_pots(filled, maker, off):
    lot = Lot.objects.get(outcome__batch=off)
    record = maker.get(reverse("batches:batch-record", args=[off.code]))
    paper = " ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(record.content)).pages)
    texts = [
        said(maker.get(off.get_absolute_url())),
        said(maker.get(reverse("batches:lot-release", args=[lot.code]))),
        " ".join(paper.replace(NBSP, " ").split()),
    ]

    for text in texts:
        assert f"Pot 1: {ABOVE}" in text
        assert "Pot 1: fragrance: out of tolerance: 16.6 g over" in text
        assert "Pot 2: fragrance: out of tolerance: 16.9 g under" in text
        assert "Every weight is within" not in text
        assert "3.89 % of wax" in text
    assert "on hold" in texts[1].lower()


def test_a_maker_may_not_end_the_hold_and_is_told_why(filled, maker, off):
    lot = Lot.objects.get(outcome__batch=off)
    data = {"reason": "Looks fine", "submission_key": key()}

    page = maker.post(reverse("inventory:lot-release", args=[lot.code]), data)

    assert "Only the owner may release this lot" in said(page)
    assert Lot.objects.get(pk=lot.pk).held
    owner = enter(filled.people.owner)
    owner.post(reverse("inventory:lot-release", args=[lot.code]), {**data, "submission_key": key()})
    assert not Lot.objects.get(pk=lot.pk).held
    assert list(HoldRecord.objects.filter(lot=lot).order_by("pk").values_list("held", "owner_decides")) == [
        (True, True),
        (False, False),
    ]


def test_nothing_is_said_of_temperatures_that_nobody_took_yet(filled, maker):
    """A weight within its tolerance is no temperature as asked."""
    books, shelf = filled.books, filled.shelf
    batch = books.plan(books.candle("Early", heat_to_mc=80_000), 10)
    books.draw_into(batch, (shelf["wax"], "920 g"))
    books.draw_into(batch, (shelf["fragrance"], "80 g"))

    page = said(maker.get(batch.get_absolute_url()))

    assert "Nothing is off so far: every weight is within its tolerance, pot by pot." in page
    assert "temperature and time as asked" not in page
