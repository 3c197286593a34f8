"""The batch record and the labels of finished candles through their pages, and the fields that feed them."""

import io

import pypdf
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.models import BatchNote, FormulaVersion
from inventory.models import LabelLayout, Lot
from studio import confirmed_warnings
from studio.models import Studio
from tests.house import NOW, day
from tests.web.conftest import enter
from tests.web.forms import formula, ingredient, key, nothing_moves, refused
from tests.web.inspection import text_of

A4 = "A4, 3 × 8, 70 × 37 mm"
ROLL = "Roll, 62 × 29 mm"


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def record_url(batch):
    return reverse("batches:batch-record", args=[batch.code])


def labels_url(lot):
    return reverse("batches:jar-labels", args=[lot.code])


def asked(lot, count="1", layout=A4, what="apart", **more):
    """Everything the page of jar labels sends."""
    sheet = LabelLayout.objects.get(name=layout).pk
    return {"what": what, "layout": str(sheet), "start": "1", lot.code: count, "print": "1", **more}


def pages(answer):
    assert answer.headers["Content-Type"] == "application/pdf", answer.content[:200]
    found = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    return [" ".join(page.extract_text().replace("\N{NO-BREAK SPACE}", " ").split()) for page in found]


def settings(**fields):
    """Everything the settings page sends."""
    return {
        "name": "Ninefold Lane",
        "currency": "USD",
        "mass_unit": "g",
        "temperature_unit": "C",
        "page_size": "A4",
        "time_zone": "UTC",
        "market": "eu",
        "address": "",
        "telephone": "",
        **fields,
    }


# The record


def test_every_role_prints_the_record_and_a_stranger_signs_in(filled):
    for role in ("owner", "maker", "bookkeeper"):
        answer = enter(getattr(filled.people, role)).get(record_url(filled.finished))
        assert (
            answer.headers["Content-Disposition"] == f'inline; filename="record-{filled.finished.code}.pdf"'
        )
        assert "Printed 20 Mar 2026, 12:00 by" in " ".join(pages(answer))
    answer = enter(None).get(record_url(filled.finished))
    assert (answer.status_code, answer.headers["Location"].split("?")[0]) == (302, reverse("sign-in"))
    assert enter(filled.people.maker).get("/batches/B0000X/record.pdf").status_code == 404
    assert enter(filled.people.maker).post(record_url(filled.finished)).status_code == 405


def test_the_record_shows_no_money(filled, owner):
    text = " ".join(pages(owner.get(record_url(filled.finished))))

    assert "$" not in text
    assert "32.2" not in text


@pytest.mark.parametrize("run", ["started", "in_parts", "abandoned", "blend", "fresh"])
def test_there_is_a_record_of_every_run_that_was_begun(filled, maker, run):
    batch = getattr(filled, run)

    assert batch.spaced_code in " ".join(pages(maker.get(record_url(batch))))
    assert record_url(batch) in text_of(maker.get(batch.get_absolute_url()))


@pytest.mark.parametrize("run", ["planned", "called_off"])
def test_a_run_that_was_not_begun_has_none(filled, maker, run):
    batch = getattr(filled, run)

    answer = maker.get(record_url(batch))

    assert answer.headers["Location"] == batch.get_absolute_url()
    page = text_of(maker.get(batch.get_absolute_url()))
    assert "Print its ticket" in page
    assert record_url(batch) not in page


def test_the_batch_page_says_what_was_put_right_and_what_is_lacking(filled, maker):
    page = text_of(maker.get(filled.fresh.get_absolute_url())).replace("\N{NO-BREAK SPACE}", " ")

    # Five wicks in place of four, mis-keyed; nobody noted a temperature.
    for words in ("Put right", "<s>4 of lot", "5 of lot", "mis-keyed", "1 more than planned"):
        assert words in page, words
    assert "No pour temperature was noted." in page
    assert "No pour temperature was noted." not in text_of(maker.get(filled.finished.get_absolute_url()))


def test_a_record_of_many_lots_and_notes_takes_as_many_queries(filled, maker):
    books, batch = filled.books, filled.started

    def queries():
        with CaptureQueriesContext(connection) as caught:
            assert maker.get(record_url(batch)).status_code == 200
        return len(caught)

    def more():
        lot = books.receive("wick", 4, cost=1)
        books.correct(books.draw_into(batch, (lot, 2)), (lot, 1))
        BatchNote.objects.create(batch=batch, text="Calm", by=books.by, at=NOW, recorded_at=NOW)

    more()
    before = queries()
    for _ in range(3):
        more()
    assert queries() == before


# Labels


def test_labels_carry_code_weight_maker_and_warning(filled, maker):
    Studio.objects.update(address="9 Lantern Row\nNowhere-on-Marsh")
    lot = filled.cured

    (page,) = pages(maker.get(labels_url(lot), asked(lot, "2")))

    for words in (
        "Cedar & Black Tea",
        "Net 100 g (3.5 oz)",
        f"Batch {filled.finished.spaced_code}",
        f"Lot {lot.spaced_code}",
        "Ninefold Lane · 9 Lantern Row, Nowhere-on-Marsh",
        "WARNING",
        "Keep away from children and pets.",
    ):
        assert page.count(words) >= 2, words


def test_as_many_are_offered_as_units_are_on_hand(filled, maker):
    # Nine good, two sent out.
    assert maker.get(labels_url(filled.cured)).context["form"].initial[filled.cured.code] == 7
    assert len(pages(maker.get(labels_url(filled.cured), asked(filled.cured, "7", what="warning")))) == 1
    assert len(pages(maker.get(labels_url(filled.cured), asked(filled.cured, "25", what="warning")))) == 2


def test_seconds_say_so_and_the_market_turns_the_weights_round(filled, maker):
    Studio.objects.update(market="us")

    (page,) = pages(maker.get(labels_url(filled.seconds), asked(filled.seconds, what="together")))

    assert "Cedar & Black Tea, seconds" in page
    assert "Net wt 3.5 oz (100 g)" in page
    assert "ASTM F2058" in text_of(maker.get(labels_url(filled.seconds)))


def test_nothing_is_printed_where_the_warning_does_not_fit(filled, maker):
    lot = filled.cured
    confirmed_warnings.confirm("eu", "Mind the flame. " * 30, signature=filled.books.sign(day(20, 13)))

    page = maker.get(labels_url(lot), asked(lot, layout=ROLL, what="together"))

    refused(page, page.context["form"], "layout", "does not fit on the jar label", "label of its own")
    page = maker.get(labels_url(lot), asked(lot, layout=ROLL, what="warning"))
    refused(page, page.context["form"], "layout", "Choose a larger label")


def test_jar_labels_alone_ask_for_a_warning_on_every_unit(filled, maker):
    lot = filled.cured

    page = maker.get(labels_url(lot), asked(lot, what="front"))
    refused(page, page.context["form"], "has_warning", "warning label of its own")

    (text,) = pages(maker.get(labels_url(lot), asked(lot, what="front", has_warning="on")))
    assert "Read the warning label on this candle." in text
    assert "WARNING" not in text


@pytest.mark.parametrize(("count", "words"), [("0", "1 to 1,000"), ("1001", "1000"), ("501", "1,002 labels")])
def test_so_many_are_not_printed_at_a_time(filled, maker, count, words):
    page = maker.get(labels_url(filled.cured), asked(filled.cured, count))

    refused(page, page.context["form"], filled.cured.code, words)


def test_who_may_and_what_has_no_labels(filled, maker, owner):
    assert enter(filled.people.bookkeeper).get(labels_url(filled.cured)).status_code == 200
    assert enter(None).get(labels_url(filled.cured)).status_code == 302
    assert maker.get("/lots/L0000X/jar-labels/").status_code == 404
    assert maker.get(labels_url(filled.shelf["wax"])).status_code == 404
    for page in (filled.cured.get_absolute_url(), filled.finished.get_absolute_url()):
        assert labels_url(filled.cured) in text_of(maker.get(page))
    assert labels_url(filled.curing) in text_of(
        maker.get(reverse("batches:lot-release", args=[filled.curing.code]))
    )
    bought = filled.books.item("Bought candle", kind="finished")
    lot = filled.books.receive("Bought candle", 3, cost=3)
    assert bought == lot.item
    assert "came out of no batch" in text_of(maker.get(labels_url(lot)))
    assert Lot.objects.filter(pk=lot.pk).exists()


# What feeds them


def test_the_owner_sets_market_address_and_telephone(filled, owner, maker):
    assert reverse("label-warning") in text_of(owner.get("/settings/"))

    answer = owner.post("/settings/", settings(market="us", address="9 Lantern Row", telephone="555 0199"))

    assert answer.status_code == 302
    studio = Studio.objects.get()
    assert (studio.market, studio.address, studio.telephone) == ("us", "9 Lantern Row", "555 0199")
    assert maker.post("/settings/", settings()).status_code == 403
    page = owner.post("/settings/", settings(address="x" * 301))
    assert page.status_code == 422


def test_great_britain_is_a_market_of_its_own_in_the_settings(filled):
    owner = enter(filled.people.owner)
    page = owner.get("/settings/").content.decode()
    assert [name in page for name in ("European Union", "Great Britain", "United States")] == [True] * 3

    owner.post("/settings/", settings(market="gb"))

    assert Studio.objects.get().market == "gb"


def lines(filled, tolerance="", per_unit=""):
    return [
        ingredient(filled, "wax", "wax_share", "100"),
        {**ingredient(filled, "fragrance", "of_melt", "8"), "tolerance": tolerance},
        {**ingredient(filled, "wick", "per_unit", "1"), "tolerance": per_unit},
    ]


def version_add(filled):
    return reverse("batches:version-add", args=[filled.candle.formula_id])


def test_a_version_keeps_stirring_tolerance_and_label_words(filled, maker):
    words = {"stir_minutes": "3", "label_words": "Contains an invented allergen."}

    answer = maker.post(version_add(filled), formula(lines(filled, "2.5"), **words))

    assert answer.status_code == 302
    version = FormulaVersion.objects.latest("pk")
    assert (version.stir_minutes, version.label_words) == (3, "Contains an invented allergen.")
    assert list(version.lines.values_list("tolerance_ppm", flat=True)) == [None, 25_000, None]
    page = text_of(maker.get(version.get_absolute_url())).replace("\N{NO-BREAK SPACE}", " ")
    for shown in ("Stir for", "3 min", "tolerance ± 2.5 %", "Contains an invented allergen."):
        assert shown in page
    typed = text_of(maker.get(reverse("batches:version-change", args=[version.formula_id, version.number])))
    assert 'value="2.5"' in typed
    assert 'value="3"' in typed


@pytest.mark.parametrize(
    ("tolerance", "per_unit", "stir", "words"),
    [
        ("51", "", "", "up to 50 %"),
        ("0", "", "", "above 0"),
        ("", "5", "", "weighed into the pot"),
        ("", "", "601", "Stir for 1 to 600 minutes"),
        ("", "", "0", "Stir for 1 to 600 minutes"),
    ],
)
def test_what_cannot_be_is_said_beside_its_field(filled, maker, tolerance, per_unit, stir, words):
    with nothing_moves():
        page = maker.post(version_add(filled), formula(lines(filled, tolerance, per_unit), stir_minutes=stir))

    assert page.status_code == 422
    assert words in text_of(page)


def test_a_form_sent_twice_makes_one_version(filled, maker):
    data = formula(lines(filled, "2.5"), stir_minutes="3") | {"submission_key": key()}
    before = FormulaVersion.objects.count()
    for _ in range(2):
        maker.post(version_add(filled), data)
    assert FormulaVersion.objects.count() == before + 1


def test_the_ticket_prints_stirring_and_tolerance(filled, maker):
    maker.post(version_add(filled), formula(lines(filled, "2.5"), stir_minutes="3"))
    batch = filled.books.plan(FormulaVersion.objects.latest("pk"), 10, on=day(24).date())

    (page,) = pages(maker.get(reverse("batches:batch-ticket", args=[batch.code])))

    # 2.5 % of 80 g.
    assert "± 2 g" in page
    assert "Stir for" in page
    assert "3 min" in page
