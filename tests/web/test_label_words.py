"""The warning confirmed by the owner, and chemical hazard labeling, through their pages up to the printed label."""

import io

import pypdf
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from batches.formulas.writing import Ingredient, write_version
from batches.models import HazardLabel
from batches.records.jar_label_text import What
from inventory.models import LabelLayout
from studio import confirmed_warnings
from studio.core.label_warnings import USUAL
from studio.models import LabelWarning, Studio
from tests.house import day, grams
from tests.web.conftest import enter
from tests.web.forms import key, refused
from tests.web.inspection import text_of

A4 = "A4, 3 × 8, 70 × 37 mm"
WARNING = reverse("label-warning")


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


def labels_url(lot):
    return reverse("batches:jar-labels", args=[lot.code])


def asked(lot, what="apart", layout=A4, **more):
    sheet = LabelLayout.objects.get(name=layout).pk
    return {"what": what, "layout": str(sheet), "start": "1", lot.code: "1", "print": "1", **more}


def printed(answer):
    assert answer.headers["Content-Type"] == "application/pdf", answer.context["form"].errors
    pages = pypdf.PdfReader(io.BytesIO(answer.content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def hazard_url(version):
    return reverse("batches:version-hazard-label", args=[version.formula_id, version.number])


def elements(filled, **fields):
    """Everything the page of label elements sends."""
    return {
        f"document_{filled.ran_out.item_id}": str(filled.ran_out.pk),
        "identifiers": "an invented sensitizer",
        "pictograms": ["GHS09", "GHS07"],
        "signal": "warning",
        "hazards": "H317 May cause an allergic skin reaction.",
        "precautions": "",
        "supplemental": "",
        "submission_key": key(),
        **fields,
    }


def test_no_signal_word_is_chosen_for_whoever_reads_the_document(filled, maker):
    """None is an answer as well; and elements taken at another load are read again before they are kept for this one."""
    version = filled.books.candle("Quince & Clay")
    url = hazard_url(version)
    assert 'name="signal" value="none"' in maker.get(url).content.decode()
    assert "checked" not in maker.get(url).content.decode()
    page = maker.post(url, elements(filled, signal=""))
    refused(page, page.context["form"], "signal", "Choose the signal word")
    assert maker.post(url, elements(filled, signal="none")).status_code == 302
    assert HazardLabel.objects.get(version=version).signal == ""

    # The next version has another load of the same fragrance.
    items = [filled.books.item(name) for name in ("wax", "fragrance", "vessel")]
    amounts = (("wax_share", 1_000_000), ("of_wax", 50_000), ("per_unit", 1))
    lines = [Ingredient(item, *amount) for item, amount in zip(items, amounts, strict=True)]
    process = {"fill_ug": grams(100), "loss_ppm": 0, "division_ug": grams(1)}
    version = write_version(version.formula, process, lines, signature=filled.books.sign())
    url = hazard_url(version)
    page = maker.post(url, elements(filled))
    refused(page, page.context["form"], "read_again", "Read them in the document")
    assert not HazardLabel.objects.filter(version=version).exists()
    assert maker.post(url, elements(filled, read_again="on")).status_code == 302


# The warning


def read(browser, page=None, **typed):
    """What the page of the warning sends, as it is shown."""
    form = (page or browser.get(WARNING)).context["form"]
    words = form["words"].value()
    return {
        "seen": form["seen"].value(),
        "initial-words": words,
        "words": words,
        "submission_key": key(),
    } | typed


@pytest.mark.parametrize("typed", ["", "Mind the flame."])
def test_words_read_for_another_market_are_read_again(owner, typed):
    """Own words stay in the field; words as they were shown give way to those of the market that holds now."""
    Studio.objects.update(market="gb")
    sent = read(owner, read_it="on") | ({"words": typed} if typed else {})
    Studio.objects.update(market="us")
    usual, before = USUAL["us"].words, LabelWarning.objects.count()
    confirmed = LabelWarning.objects.filter(market="us").first()
    shown = confirmed.words if confirmed else usual

    page = owner.post(WARNING, sent)

    refused(
        page,
        page.context["form"],
        "words",
        "Sold in: United States",
        "confirm again",
        *[shown] * bool(typed),
    )
    assert "Sold in: United States" in text_of(page)
    assert page.context["form"]["words"].value() == (typed or shown)
    assert not page.context["form"]["read_it"].value()
    assert LabelWarning.objects.count() == before
    # The tick is asked for again; with it the words are confirmed for the market that was read.
    again = read(owner, page)
    assert owner.post(WARNING, again).status_code == 422
    assert owner.post(WARNING, again | {"read_it": "on", "submission_key": key()}).status_code == 302
    newest = LabelWarning.objects.order_by("-pk")[0]
    assert (newest.market, newest.words) == ("us", typed or shown)


def test_words_that_a_colleague_confirmed_since_are_read_first(filled, owner):
    sent = read(owner, read_it="on")
    confirmed_warnings.confirm("eu", "Trim the wick.", signature=filled.books.sign())

    page = owner.post(WARNING, sent)

    refused(page, page.context["form"], "words", "changed since")
    assert page.context["form"]["words"].value() == "Trim the wick."
    assert LabelWarning.objects.filter(market="eu").first().words == "Trim the wick."


def test_nothing_is_printed_before_the_owner_confirmed_the_warning_of_the_market(filled, owner, maker):
    # "gb" has no confirmed words here; those of the EU and the US do not stand for it.
    Studio.objects.update(market="gb")
    lot = filled.cured
    page = maker.get(labels_url(lot))
    assert "They are a paraphrase" in text_of(page)
    assert "Ask the owner" in text_of(page)
    page = owner.get(labels_url(lot), asked(lot, has_hazards="on"))
    assert page.status_code == 422
    assert "not confirmed for this market" in text_of(page)
    assert WARNING in text_of(page)

    told = text_of(owner.get(WARNING))
    assert "Not confirmed yet" in told
    page = owner.post(WARNING, read(owner, words="Mind the flame."))
    refused(page, page.context["form"], "read_it", "Tick this")
    assert "Mind the flame.</textarea>" in text_of(page)
    page = owner.post(WARNING, read(owner, words="  ", read_it="on"))
    assert page.status_code == 422
    sent = read(owner, words="Mind the flame.", read_it="on")
    assert owner.post(WARNING, sent).status_code == 302
    assert owner.post(WARNING, sent).status_code == 302  # pressed twice: one row

    assert LabelWarning.objects.filter(market="gb").count() == 1
    assert "Mind the flame." in printed(maker.get(labels_url(lot), asked(lot, has_hazards="on")))


def test_a_new_text_is_a_new_row_the_newest_counts_and_only_the_owner_confirms(filled, owner, maker):
    assert maker.post(WARNING, {"words": "x", "read_it": "on", "submission_key": key()}).status_code == 403
    assert "Confirm" not in text_of(maker.get(WARNING)).replace("Confirmed", "")
    before = LabelWarning.objects.filter(market="eu").count()

    owner.post(WARNING, read(owner, words="Stay with it.", read_it="on"))

    rows = LabelWarning.objects.filter(market="eu")
    assert rows.count() == before + 1
    page = text_of(owner.get(WARNING))
    assert "Stay with it." in page
    assert USUAL["eu"].sentences[0] in page
    lot = filled.cured
    words = printed(maker.get(labels_url(lot), asked(lot)))
    assert "Stay with it." in words
    assert USUAL["eu"].sentences[-1] not in words


@pytest.mark.parametrize("market", ["us", "eu", "gb"])
def test_what_is_preselected_is_printed_on_a_layout_that_came_with_the_program(filled, maker, market):
    Studio.objects.update(market=market, address="9 Lantern Row\nNowhere-on-Marsh")
    confirmed_warnings.confirm(market, USUAL.get(market, USUAL["eu"]).words, signature=filled.books.sign())
    lot = filled.cured
    for usual in LabelLayout.objects.filter(retired=False):
        # Whichever is the studio's usual one.
        LabelLayout.objects.update(is_default=False)
        LabelLayout.objects.filter(pk=usual.pk).update(is_default=True)
        first = maker.get(labels_url(lot)).context["form"].initial

        data = {"layout": str(first["layout"].pk), "what": str(first["what"]), "start": "1"}
        words = printed(maker.get(labels_url(lot), data | {lot.code: "1", "print": "1"}))
        assert "WARNING" in words, usual
        assert "catch fire" in words


# Chemical hazard labeling


def test_missing_elements_ask_for_a_tick_where_clp_holds_and_nowhere_else(filled, maker):
    higher = filled.cured  # its elements are on record and current
    assert "Chemical hazard labeling" not in text_of(maker.get(labels_url(higher)))
    filled.books.paper("fragrance")  # a newer sheet: what was taken from the older one is outdated
    page = maker.get(labels_url(higher), asked(higher))
    refused(page, page.context["form"], "has_hazards", "outdated", "samples")
    assert "WARNING" in printed(maker.get(labels_url(higher), asked(higher, has_hazards="on")))
    Studio.objects.update(market="us")
    assert "WARNING" in printed(maker.get(labels_url(higher), asked(higher)))
    assert "outdated" not in text_of(maker.get(labels_url(higher)))


def test_elements_entered_are_shown_with_load_and_document_and_printed(filled, maker):
    Studio.objects.update(telephone="555 0199")
    version = filled.candle
    page = maker.post(hazard_url(version), elements(filled, identifiers="", hazards="", pictograms=[]))
    refused(page, page.context["form"], "none_needed", "Enter what the document lists")
    page = maker.post(hazard_url(version), elements(filled, none_needed="on"))
    refused(page, page.context["form"], "none_needed", "Take the tick")
    page = maker.post(hazard_url(version), elements(filled, **{f"document_{filled.ran_out.item_id}": ""}))
    refused(page, page.context["form"], f"document_{filled.ran_out.item_id}", "file it beside the item")
    sent = elements(filled)
    assert maker.post(hazard_url(version), sent).headers["Location"] == version.get_absolute_url()
    assert maker.post(hazard_url(version), sent).status_code == 302

    assert HazardLabel.objects.filter(version=version).count() == 2  # the one before, and this one
    shown = text_of(maker.get(version.get_absolute_url())).replace("\N{NO-BREAK SPACE}", " ")
    for words in (
        "GHS07 GHS09",
        "an invented sensitizer",
        "H317",
        "8.7 % of wax = 8 % of melt",
        "safety.pdf",
    ):
        assert words in shown, words
    lot = filled.cured
    page = maker.get(labels_url(lot), asked(lot, what="warning"))
    refused(page, page.context["form"], "has_hazards", "Print the chemical hazard labeling")
    # On the small sheet they do not fit; the page begins with a layout on which they do.
    page = maker.get(labels_url(lot), asked(lot, what="warning", hazards="on"))
    refused(page, page.context["form"], "layout", "does not fit")
    first = maker.get(labels_url(lot)).context["form"].initial
    assert first["hazards"] is True
    chosen = asked(lot, what=str(first["what"]), layout=first["layout"].name, hazards="on")
    words = printed(maker.get(labels_url(lot), chosen))
    for part in ("Contains: an invented sensitizer", "H317", "555 0199"):
        assert part in words, part


def test_elements_that_do_not_fit_are_refused_rather_than_cut(filled, maker):
    long = "P273 Avoid release to the environment. " * 25
    maker.post(hazard_url(filled.candle), elements(filled, precautions=long))
    lot = filled.cured

    for what in (What.TOGETHER, What.WARNING):
        page = maker.get(labels_url(lot), asked(lot, what=what, hazards="on"))
        refused(page, page.context["form"], "layout", "not fit")


def test_the_version_and_planning_say_what_is_missing(filled, maker):
    draft = filled.draft  # 7 % of melt; the elements were taken at 8 %
    page = text_of(maker.get(draft.get_absolute_url())).replace("\N{NO-BREAK SPACE}", " ")
    assert (
        "fragrance was taken at 8.7 % of wax = 8 % of melt; this version has 7.53 % of wax = 7 % of melt."
        in page
    )
    asks = {"formula": str(draft.pk), "quantity": "4", "planned_on": "2026-03-20"}
    for market, says in (("eu", True), ("us", False)):
        Studio.objects.update(market=market)
        page = text_of(maker.get(reverse("batches:batch-plan"), asks))
        assert ("chemical hazard labeling on record is outdated" in page) is says


def test_the_pages_take_as_many_queries_for_many_enterings(filled, maker):
    urls = (hazard_url(filled.candle), filled.candle.get_absolute_url(), labels_url(filled.cured), WARNING)

    def queries():
        found = []
        for url in urls:
            with CaptureQueriesContext(connection) as caught:
                assert maker.get(url).status_code == 200
            found.append(len(caught))
        return found

    maker.post(hazard_url(filled.candle), elements(filled))
    before = queries()
    for number in range(3):
        maker.post(hazard_url(filled.candle), elements(filled))
        confirmed_warnings.confirm("eu", f"Mind it {number}.", signature=filled.books.sign(day(20, 13)))
    assert queries() == before
