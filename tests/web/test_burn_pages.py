"""The pages of burn tests say what was seen: nothing is filled in, and what was not observed is named."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from batches.models import BurnReading
from studio.core.numerals import NBSP
from tests.files import phone_photo
from tests.web.conftest import enter
from tests.web.forms import key
from tests.web.inspection import csv_of, text_of


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def lit(filled):
    """Two jars of the candle, 351 g and 352 g, 100 g of melt in each."""
    return filled.books.light(filled.candle, "351 g", "352 g")


def plain(page):
    return text_of(page).replace(NBSP, " ").replace("&nbsp;", " ").replace("&#x27;", "'")


def read_url(test):
    return reverse("batches:burn-read", args=[test.pk])


def as_shown(page):
    """What the form would send if nothing were touched: the figures and choices it came with."""
    data = {"submission_key": key(), "happened_at": ""}
    for form in (page.context["form"], *page.context["lines"]):
        for field in form:
            value = field.value()
            data[field.html_name] = "" if value is None else str(value)
    return data


def test_three_presses_with_one_flame_height_typed_are_no_pass(lit, maker):
    first = lit.jars.first()
    for _ in range(3):
        page = maker.get(read_url(lit))
        shown = as_shown(page)
        assert maker.post(read_url(lit), shown | {f"jar{first.pk}-flame": "40"}).status_code == 422
    assert not BurnReading.objects.filter(jar__test=lit).exists()

    for cycle in (1, 2, 3):
        typed = {f"jar{jar.pk}-minutes": "240" for jar in lit.jars.all()} | {f"jar{first.pk}-flame": "40"}
        assert maker.post(read_url(lit), as_shown(maker.get(read_url(lit))) | typed).status_code == 302
        assert set(BurnReading.objects.filter(jar__test=lit, cycle=cycle).values_list("soot", flat=True)) == {
            ""
        }

    page = plain(maker.get(lit.get_absolute_url()))
    assert "Speaks for a pass" not in page
    assert "Not judged" in page
    assert "Jar 2, cycle 3: flame height not observed." in page
    data = {"state": "passed", "verdict": "Fine", "submission_key": key()}
    assert maker.post(reverse("batches:burn-decide", args=[lit.pk]), data).status_code == 422
    lit.refresh_from_db()
    assert lit.state == "running"


@pytest.mark.parametrize("kind", ["cycle", "end"])
def test_a_cycle_form_comes_empty_at_first_for_a_second_time_and_after_an_error(filled, lit, maker, kind):
    filled.books.read(lit, 1, {"weight": "331 g", "soot": "none"}, {"weight": "332 g"})

    def typed(page):
        return {
            field.html_name: field.value()
            for line in page.context["lines"]
            for field in line
            if field.value() not in (None, "")
        }

    page = maker.get(read_url(lit), {"kind": kind})
    assert typed(page) == {}
    assert "Not observed" in text_of(page)
    first = lit.jars.first()
    wrong = as_shown(page) | {f"jar{first.pk}-flame": "40"}
    page = maker.post(read_url(lit), wrong)
    assert page.status_code == 422
    assert typed(page) == {f"jar{first.pk}-flame": "40"}
    slip = BurnReading.objects.filter(jar=first).get()
    struck = maker.post(
        reverse("batches:burn-strike", args=[lit.pk, slip.pk]), {"reason": "slip", "submission_key": key()}
    )
    assert typed(maker.get(struck.headers["Location"])) == {}


def test_jars_weighed_before_come_empty_and_so_does_another(filled, maker):
    start = reverse("batches:burn-start", args=[filled.draft.formula_id, filled.draft.number])
    page = maker.get(start)
    another = maker.post(start, {"jars-TOTAL_FORMS": "2", "jars-INITIAL_FORMS": "0", "add_line": "1"})

    for answer, jars in ((page, 2), (another, 3)):
        values = [field.value() for line in answer.context["lines"] for field in line.visible_fields()]
        assert len(values) == 2 * jars
        assert set(values) <= {None, ""}


def test_a_test_stopped_short_shows_on_whose_word_wherever_its_design_stands(filled, owner, maker):
    """On the test, the version, what is asked before approval, and the batch record."""
    books = filled.books
    version = filled.candle
    test = books.light(version, "350 g")
    for cycle, weight in enumerate(("330 g", "310 g", "290 g"), 1):
        books.read(test, cycle, {"weight": weight, "flame_um": 40_000, "soot": "none", "mushrooming": "none"})
    decide = reverse("batches:burn-decide", args=[test.pk])
    page = plain(maker.get(decide))
    assert "12 h of about 20 h expected (an estimate)" in page
    assert "Why it passes all the same" not in page
    data = {"state": "passed", "verdict": "Even", "submission_key": key()}
    page = maker.post(decide, data)
    assert page.status_code == 422
    assert "only the owner" in str(page.context["form"].errors["state"])
    because = "Its twin was burned to the end"
    assert owner.post(decide, data | {"accepted_because": because}).status_code == 302
    books.approve(version, "Good enough for the fair")

    state = reverse("batches:version-state", args=[version.formula_id, version.number])
    for url in (test.get_absolute_url(), version.get_absolute_url(), state):
        page = plain(maker.get(url))
        assert because in page, url
        assert "no end of life" in page, url
    assert "on the owner's word" in plain(maker.get(version.get_absolute_url()))


def test_a_list_says_what_is_not_known_yet_and_an_export_what_was_not_observed(filled, lit, maker):
    filled.books.read(lit, 1, {"flame_um": 40_000}, {"soot": "none"})

    assert "expected: not known yet" in plain(maker.get(reverse("batches:burn-list")))
    rows = csv_of(maker, f"{reverse('batches:burn-list')}?format=csv")
    mine = [row for row in rows if row["Burn test"] == str(lit.pk)]
    assert [(row["Soot"], row["Not observed"]) for row in mine] == [
        ("", "soot, mushrooming, weight"),
        ("None", "flame height, mushrooming, weight"),
    ]
    assert [row["Kind"] for row in mine] == ["Cycle", "Cycle"]


def test_a_photo_is_added_to_a_jar_in_a_cycle(filled, lit, maker):
    url = reverse("batches:burn-photo-add", args=[lit.pk])
    first = lit.jars.first()

    def send(**more):
        sent = {
            "text": "Pool",
            "photo": SimpleUploadedFile("pool.jpg", phone_photo()),
            "submission_key": key(),
        }
        return maker.post(url, sent | more)

    refused_without = send(jar=str(first.pk))
    assert "which cycle" in str(refused_without.context["form"].errors["cycle"])
    other = filled.burned.jars.get()
    assert "jar" in send(jar=str(other.pk), cycle="1").context["form"].errors

    assert send(jar=str(first.pk), cycle="1").status_code == 302
    assert list(lit.photos.values_list("cycle", "jar")) == [(1, first.pk)]
    assert "cycle 1, jar 1" in plain(maker.get(lit.get_absolute_url()))
