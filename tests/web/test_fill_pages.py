"""Fill checks through the pages: a list of weights typed or pasted, judged by the market's rule, and plotted."""

import pytest
from django.urls import reverse

from batches.fill_checks.checking import CannotCheck, state_of
from batches.fill_checks.forms import read_weights
from batches.models import FillCheck
from studio.core.numerals import NBSP
from studio.models import Studio
from tests.house import grams
from tests.house import refused as verb_refused
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused
from tests.web.inspection import inspect, text_of
from tests.web.pages import ALL


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def url(filled):
    return reverse("batches:fill-add", args=[filled.finished.code])


def typed(weights, **fields):
    """Everything the page "check the fills" sends."""
    data = {
        "declared": "100",
        "market": "eu",
        "lot_size": "10",
        "unit": "g",
        "tare": "",
        "submission_key": key(),
    }
    return {**data, "weights": weights, **fields}


def said(page):
    return text_of(page).replace(NBSP, " ").replace("&nbsp;", " ")


def nets(check):
    return [weight.net_ug for weight in check.weights.all()]


# The list


@pytest.mark.parametrize(
    "text",
    [
        "220.5\n221\n219.75",
        "220.5\r\n\r\n221\r\n219.75\r\n",
        "220.5\t221\t219.75",
        "220.5; 221;219.75",
        "220.5, 221, 219.75",
        "220.5 221 219.75",
        "  220.5 g\n0.221 kg\n219750 mg ",
    ],
)
def test_a_list_is_read_however_it_was_written(text):
    assert read_weights(text, "g") == [grams("220.5"), grams(221), grams("219.75")]


def test_an_ounce_is_exact():
    # 8 oz = 226.796185 g exactly.
    assert read_weights("8\n0.5 lb", "oz") == [226_796_185] * 2


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("220\n22o", "Weight 2, “22o”"),
        ("220\n221,5", "Write decimals with a point: 221.5"),
        ("220\n-3", "Weight 2"),
        ("220 ml", "volume"),
        ("0", "above zero"),
        ("1e999", "exponent"),
        ("220\x00", "Null characters"),
        ("x" * 20_001, "at most 20000"),
        ("100\n" * 501, "at most 500"),
        ("", "Fill this in"),
        (" \n ; ", "at least one weight"),
    ],
)
def test_what_cannot_be_read_is_named_by_its_place(filled, maker, url, text, words):
    with nothing_moves():
        page = maker.post(url, typed(text))

    assert page.status_code == 422
    assert words in " ".join(page.context["form"].errors["weights"])


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"declared": ""}, "declared", "Fill"),
        ({"declared": "4"}, "declared", "from 5 g to 10 kg"),
        ({"declared": "1600", "market": "us"}, "declared", "3.20 lb"),
        ({"market": "mars"}, "market", "from the list"),
        ({"market": ""}, "market", "Choose"),
        ({"lot_size": "1"}, "lot_size", "2 weights were entered"),
        ({"lot_size": "0"}, "lot_size", "1"),
        ({"lot_size": "9" * 30}, "lot_size", "1000000"),
        ({"unit": "stone"}, "unit", "from the list"),
        ({"tare": "101"}, "tare", "Weight 2 is not more than the empty vessel"),
        ({"weights": "101\n22"}, "weights", "far from the"),
        ({"happened_at": "2027-01-01T10:00"}, "happened_at", "future"),
        ({"note": "x" * 201}, "note", "at most 200"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(filled, maker, url, fields, field, words):
    with nothing_moves():
        page = maker.post(url, typed("102\n101") | fields)

    refused(page, page.context["form"], field, words)


def test_what_was_typed_stays_in_its_lines(filled, maker, url):
    text = text_of(maker.post(url, typed("101\r\n22o\r\n103", note="Left rack")))

    assert "101\r\n22o\r\n103</textarea>" in text
    assert 'value="Left rack"' in text


# From the page


def test_weights_are_kept_in_order_and_judged(filled, maker, url):
    # All ten of ten: mean 100.2 against 100 declared; the smallest 98.9 lies within 4.5 g.
    text = "100.1\n99.8\n101\n100.4\n98.9\n100.3\n100.9\n99.9\n100.2\n100.5"

    answer = maker.post(url, typed(text))

    check = FillCheck.objects.latest("pk")
    assert answer.headers["Location"] == check.get_absolute_url()
    assert nets(check)[:3] == [grams("100.1"), grams("99.8"), grams(101)]
    assert (check.declared_ug, check.lot_size, check.by) == (grams(100), 10, filled.people.maker)
    assert state_of(check) == ("good", "Passed")
    page = said(maker.get(check.get_absolute_url()))
    for words in (
        "100.2 g",
        "98.9 g",
        "Passed",
        "Directive 76/211/EEC",
        "UK SI 2006/659",
        "from memory",
        "Steady",
    ):
        assert words in page, words
    # A scale of 1 g is fine enough for a fifth of 4.5 g no more: 0.9 g.
    assert "The scale is too coarse" in page
    assert "0.9 g at most" in page
    assert "10 weights. Fewer than 25 are too few to tell" in page
    listed = said(maker.get(filled.finished.get_absolute_url()))
    assert "10 weighed, 100 g declared" in listed


def test_a_common_tare_is_taken_off_and_far_weights_are_asked_about_once(filled, maker, url):
    assert maker.post(url, typed("260.5\n261", tare="160")).status_code == 302
    assert nets(FillCheck.objects.latest("pk")) == [grams("100.5"), grams(101)]

    assert maker.post(url, typed("22\n101", sure="on")).status_code == 302
    assert state_of(FillCheck.objects.latest("pk")) == ("problem", "Failed")


def test_the_handbook_judges_by_the_average_and_says_what_it_is_from(filled, maker, url):
    # The case of the outside checks: label 227 g, average −0.6333, 0.635 of the deviation is 0.3253: fails.
    weights = "226.1 226.4 225.9 227.3 226.6 225.8 226.8 225.7 226.5 227.1 226.0 226.2"

    maker.post(url, typed(weights, declared="227", market="us", lot_size="54"))

    page = said(maker.get(FillCheck.objects.latest("pk").get_absolute_url()))
    assert "−0.63 g" in page
    assert "0.512 g" in page
    assert "12.7 g" in page
    assert "Failed" in page
    assert "No table of the handbook could be read" in page


def test_too_few_say_how_many_the_rule_wants(filled, maker, url):
    maker.post(url, typed("101\n102"))

    page = said(maker.get(FillCheck.objects.latest("pk").get_absolute_url()))
    assert "Not enough weighed" in page
    assert "The rule wants 10 of the 10 weighed; these are 2. As far as it goes, nothing fails." in page


def test_eight_on_one_side_are_told_in_words(filled, maker, url):
    weights = "\n".join(["99.5"] * 8 + ["103"] * 2)

    maker.post(url, typed(weights))

    page = said(maker.get(FillCheck.objects.latest("pk").get_absolute_url()))
    assert "Eight in a row lie below the mean, up to no. 8" in page
    assert "Western Electric rule 4" in page


def test_it_is_plotted_by_means_between_limits_of_ones_own(filled, maker):
    # 100.2 101.1 100.7 | 99.4 100.3 100.9 | 100.1 100.6 100.3: ranges 0.9, 1.5, 0.5, mean 29/30; σ = 0.9667/1.693 =
    # 0.570978; between 99 and 102 Cp = 3/3.425871 = 0.8757, Cpk = 1.4/1.712935 = 0.8173; s = √(2.02/8)
    # = 0.502494 gives Pp 0.9950 and Ppk 0.9287.
    page = maker.get(filled.fill.get_absolute_url(), {"group": "3", "low": "99", "high": "102"})

    text = said(page)
    assert page.context["chart"].size == 3
    assert "Means of 3 in a row: mean 100.4 g, limits 99.41 g and 101.39 g" in text
    for figure in ("0.88", "0.82", "1.00", "0.93"):
        assert f'<span class="figure">{figure}</span>' in text, figure
    assert inspect(page).faults == []
    # Asked for the means alone, the limits are the declared weight give or take 4.5 g.
    page = maker.get(filled.fill.get_absolute_url(), {"group": "3"})
    assert 'name="low" value="95.5"' in text_of(page)
    assert 'name="high" value="104.5"' in text_of(page)


def test_weights_that_make_no_whole_subgroup_are_told(filled, maker):
    text = said(maker.get(filled.fill.get_absolute_url(), {"group": "4"}))

    assert "1 weight at the end makes no whole 4 and is left out" in text
    assert "Too few weights for a drawing of means of 5" in said(
        maker.get(filled.fill.get_absolute_url(), {"group": "5"})
    )


@pytest.mark.parametrize(
    ("query", "field", "words"),
    [
        ({"group": "11"}, "group", "from the list"),
        ({"low": "101", "high": "99"}, "high", "above the lower"),
        ({"low": "warm"}, "low", "number"),
    ],
)
def test_an_odd_question_of_the_drawing_is_answered_beside_its_field(filled, maker, query, field, words):
    page = maker.get(filled.fill.get_absolute_url(), query)

    refused(page, page.context["form"], field, words)


@pytest.mark.parametrize("weights", ["100", "100\n100\n100"])
def test_one_weight_or_all_alike_make_a_page(filled, maker, url, weights):
    maker.post(url, typed(weights))

    page = maker.get(FillCheck.objects.latest("pk").get_absolute_url())
    assert page.status_code == 200
    assert "What the filling can do" in said(page)


def test_a_studio_of_pounds_is_asked_in_ounces(filled, maker, url):
    Studio.objects.update(mass_unit="lb")
    text = text_of(maker.get(url))

    assert '<option value="oz" selected>' in text
    # 100 g of 28.349523125 g: 3.52739619…, with as many decimals as lead back to the microgram.
    assert 'name="declared" value="3.5273962"' in text


def test_every_role_reads_a_fill_check_and_makers_make_it(filled):
    for role in ALL:
        client = enter(getattr(filled.people, role))
        page = client.get(filled.fill.get_absolute_url())
        assert page.status_code == 200
        assert ("Weigh again" in text_of(page)) is (role != "bookkeeper")


def test_a_check_sent_twice_is_kept_once(filled, maker, url):
    data, before = typed("101\n102"), FillCheck.objects.count()

    answers = {maker.post(url, data).headers["Location"] for _ in range(2)}

    assert len(answers) == 1
    assert FillCheck.objects.count() == before + 1


@pytest.mark.parametrize("batch", ["planned", "called_off", "blend"])
def test_what_was_not_filled_is_not_checked(filled, maker, batch):
    batch = getattr(filled, batch)

    page = maker.get(reverse("batches:fill-add", args=[batch.code]))

    assert page.headers["Location"] == batch.get_absolute_url()
    with verb_refused(CannotCheck, "blend|nothing was poured"):
        filled.books.check_fill(batch, [100], declared="100 g")


def test_the_verb_refuses_what_the_page_would(filled):
    check = filled.books.check_fill
    with verb_refused(CannotCheck, "more than the 1 units"):
        check(filled.finished, [100, 101], declared="100 g", lot_size=1)
    with verb_refused(CannotCheck, "above zero"):
        check(filled.finished, [], declared="100 g", lot_size=1)
    with verb_refused(CannotCheck, "from 5 g to 10 kg"):
        check(filled.finished, [3], declared="3 g")
