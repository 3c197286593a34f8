"""The pages of burn tests, of what is asked before a version is approved, and of fill weights (see `filled`)."""

import hashlib
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from openpyxl import load_workbook
from pypdf import PdfReader

from batches.burn_tests import burning
from batches.formulas import writing as formulas
from batches.models import BurnLimits, BurnReading, BurnTest, Formula, FormulaVersion, StateChange
from inventory.models import Item
from studio.core.numerals import NBSP
from tests.files import phone_photo
from tests.house import day, grams
from tests.web.conftest import enter
from tests.web.forms import formula, ingredient, key, nothing_moves, refused
from tests.web.inspection import csv_of, text_of


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def plain(page):
    return text_of(page).replace(NBSP, " ").replace("&nbsp;", " ").replace("&#x27;", "'")


# Burn tests


def jars(*weights, **more):
    """The jars of a new test as the page sends them."""
    data = {"jars-TOTAL_FORMS": str(len(weights)), "jars-INITIAL_FORMS": "0", "cycle_minutes": "240"}
    for number, weight in enumerate(weights):
        data |= {f"jars-{number}-start": weight, f"jars-{number}-melt": "100" if weight else ""}
    return data | {"batch": "", "plan": "", "happened_at": "", "submission_key": key()} | more


NOT_LIT = dict.fromkeys(("minutes", "soot", "mushrooming"), "")


def seen(test, cycle, *fields, **more):
    """What was read of the jars, in their order, as the page sends it."""
    data = {"cycle": str(cycle), "happened_at": "", "submission_key": key()}
    for jar, said in zip(test.jars.all(), fields, strict=False):
        said = {"minutes": "240", "mushrooming": "none", "soot": "none", **said}
        data |= {f"jar{jar.pk}-{name}": value for name, value in said.items()}
    return data | more


def read_url(test):
    return reverse("batches:burn-read", args=[test.pk])


def decide_url(test):
    return reverse("batches:burn-decide", args=[test.pk])


def test_a_burn_test_is_started_read_and_decided_from_the_pages(filled, maker):
    start = reverse("batches:burn-start", args=[filled.draft.formula_id, filled.draft.number])
    assert 'value="100"' not in text_of(maker.get(start))
    answer = maker.post(start, jars("350", "12 oz", "", plan="A new wick"))
    test = BurnTest.objects.latest("pk")
    assert answer.headers["Location"] == test.get_absolute_url()
    # 12 oz = 12 × 28.349523125 g.
    assert list(test.jars.values_list("start_ug", flat=True)) == [grams(350), 340_194_278]
    assert (test.version, test.plan, test.started_by) == (filled.draft, "A new wick", filled.people.maker)

    for cycle, (first, second) in enumerate((("330", "320"), ("311", "301"), ("291", "281")), 1):
        assert f"Keep cycle {cycle}" in text_of(maker.get(read_url(test)))
        data = seen(test, cycle, {"weight": first, "flame": "42"}, {"weight": second, "flame": "1.7 in"})
        assert maker.post(read_url(test), data).headers["Location"] == test.get_absolute_url()

    assert BurnReading.objects.filter(jar__test=test, flame_um=43_180).count() == 3
    # Of the first 59 g, of the second 340.194278 − 281 = 59.194278 g, in 24 h: 4.9248 g an hour; 100 g last 20.3 h.
    page = plain(maker.get(test.get_absolute_url()))
    assert "4.92 g" in page
    assert "of about 20 h expected: an estimate" in page
    assert "measured over 24 h in all" in " ".join(page.split())
    assert "Speaks for a pass" not in page
    assert "Jar 2: no end of life; a test runs until 12 mm of wax is left." in page
    end = {"minutes": "300", "weight": "262", "flame": "50", "wax_left": "12", "went_out": "put_out"}
    data = seen(test, 4, end, end | {"weight": "250", "wax_left": "0"}, kind="end")
    assert "Cycle 4: end of life" in plain(maker.get(read_url(test), {"kind": "end"}))
    assert maker.post(read_url(test), data).headers["Location"] == test.get_absolute_url()
    assert list(
        BurnReading.objects.filter(jar__test=test, kind="end").values_list("wax_left_um", flat=True)
    ) == [
        12_000,
        0,
    ]
    page = plain(maker.get(test.get_absolute_url()))
    assert "Speaks for a pass" in page
    data = {"state": "passed", "verdict": "Even pool, no soot", "submission_key": key()}
    assert maker.post(decide_url(test), data).status_code == 302
    test.refresh_from_db()
    assert (test.state, test.verdict) == ("passed", "Even pool, no soot")


def test_the_page_of_a_test_shows_every_figure_and_what_is_beyond_beside_its_reading(filled, maker):
    page = plain(maker.get(filled.burning.get_absolute_url()))

    # By hand in `filled`: 88 g in 16 h are 5.5 g an hour, 100 g last 18.18 h; jar 1 5.25 and 19.05, jar 2 5.75 and 17.39.
    for figure in (
        "5.5 g",
        "18 h",
        "16 h",
        "20 g burned",
        "24 g burned",
        "5.25 g/h",
        "5.75 g/h",
        "19 h",
        "17 h",
    ):
        assert figure in page, figure
    assert "Flame 80 mm, above 75 mm." in page
    assert "Speaks for a fail" in page
    assert "Read from the wrong jar" in page
    assert "Struck out" in page
    assert "Never leave a burning candle alone" in page
    assert "ASTM F2417" in page
    assert "does not certify" in page


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("weight", "310", ["309 g before", "cannot have gained"]),
        ("weight", "-1", ["minus"]),
        ("weight", "300 ml", ["volume"]),
        ("flame", "500", ["expected", "mm"]),
        ("flame", "2 kg", ["length"]),
        ("full_pool_after", "241", ["later than"]),
        ("full_pool_after", "x", ["whole number"]),
        ("minutes", "1441", ["1440"]),
        ("minutes", "", ["how long"]),
        ("soot", "lots", ["from the list"]),
        ("vessel", "900", ["between"]),
        ("note", "n\x00", ["null"]),
    ],
)
def test_a_reading_is_refused_at_its_field_and_what_was_typed_stays(filled, maker, field, typed, words):
    test = filled.burning
    first = {"weight": "300", "note": "Steady", field: typed}
    with nothing_moves():
        page = maker.post(read_url(test), seen(test, 3, first, {"weight": "301"}))

    said = [each.replace(" g ", f"{NBSP}g ") for each in words]
    refused(
        page, page.context["lines"][0], field, *said, typed=["301"] if "\x00" in typed else ["Steady", "301"]
    )


def test_a_jar_left_out_and_a_form_with_nothing_in_it(filled, maker):
    test = filled.burning
    with nothing_moves():
        page = maker.post(read_url(test), seen(test, 3, NOT_LIT, NOT_LIT))
    assert page.status_code == 422
    assert "at least one jar" in text_of(page)

    assert maker.post(read_url(test), seen(test, 3, NOT_LIT, {"weight": "290"})).status_code == 302
    page = plain(maker.get(test.get_absolute_url()))
    assert "Read cycle 3 of jar 1" in page


def test_what_a_colleague_read_meanwhile_is_said_at_its_jar(filled, maker):
    test = filled.burning
    filled.books.read(test, 3, {"weight": "300 g"})
    with nothing_moves():
        page = maker.post(read_url(test), seen(test, 3, {"weight": "299"}, {"weight": "290"}))

    refused(page, page.context["lines"][0], "weight", "read already", typed=["299", "290"])


def test_a_slip_is_struck_out_and_leads_to_reading_it_anew(filled, maker):
    test, reading = filled.burning, filled.read
    url = reverse("batches:burn-strike", args=[test.pk, reading.pk])
    with nothing_moves():
        assert maker.post(url, {"reason": "", "submission_key": key()}).status_code == 422

    answer = maker.post(url, {"reason": "Scale was not zeroed", "submission_key": key()})

    assert answer.headers["Location"] == f"{read_url(test)}?cycle=2"
    page = maker.get(answer.headers["Location"])
    assert [line.jar.number for line in page.context["lines"]] == [2]
    assert maker.get(url).status_code == 302
    second = test.jars.get(number=2)
    data = {"cycle": "2", "happened_at": "", "submission_key": key()}
    data |= {f"jar{second.pk}-{name}": value for name, value in (("minutes", "240"), ("weight", "307"))}
    data |= {f"jar{second.pk}-mushrooming": "none", f"jar{second.pk}-soot": "none"}
    assert maker.post(answer.headers["Location"], data).status_code == 302
    assert second.readings.filter(struck_at=None, cycle=2).get().weight_ug == grams(307)


def test_a_reading_of_another_test_opens_nothing(filled, maker):
    other = BurnReading.objects.filter(jar__test=filled.burned).first()

    assert maker.get(reverse("batches:burn-strike", args=[filled.burning.pk, other.pk])).status_code == 404


def test_only_the_owner_passes_what_went_beyond_a_limit_and_it_says_so(filled, maker, owner):
    test = filled.burning
    data = {"state": "passed", "verdict": "A draught from the door", "submission_key": key()}
    with nothing_moves():
        page = maker.post(decide_url(test), data | {"accepted_because": "I say so"})
    refused(page, page.context["form"], "state", "only the owner", typed=["A draught from the door"])
    with nothing_moves():
        page = owner.post(decide_url(test), data)
    refused(page, page.context["form"], "accepted_because", "say why", typed=["A draught from the door"])

    because = {"accepted_because": "Calm once the door was shut"}
    assert owner.post(decide_url(test), data | because).status_code == 302

    page = plain(maker.get(test.get_absolute_url()))
    assert "Passed on the owner's word" in page
    assert "Calm once the door was shut" in page
    assert "Jar 1, cycle 2: Flame 80 mm, above 75 mm." in page
    assert "Jar 1: 2 of 3 cycles burned." in page
    for url in (read_url(test), decide_url(test)):
        assert maker.get(url).headers["Location"] == test.get_absolute_url()


def test_the_owner_sets_limits_and_each_is_kept(filled, maker, owner):
    url = reverse("batches:burn-limits")
    shown = owner.get(url)
    assert 'value="75"' in text_of(shown)
    assert "Set from now on" not in text_of(maker.get(url))
    data = {"flame_um": "60", "soot": "none", "mushrooming": "slight", "cycles": "4", "vessel_mc": "60"}
    data |= {"full_pool_within_minutes": "", "weight_asked": "on", "wax_left_um": "0", "end_flame_um": "75"}
    data |= {"end_vessel_mc": "", "submission_key": key()}

    assert owner.post(url, data).status_code == 302

    limits = burning.limits_in_force()
    assert (limits.flame_um, limits.vessel_mc, limits.soot, limits.cycles) == (60_000, 60_000, "none", 4)
    assert (limits.full_pool_within_minutes, limits.set_by) == (None, filled.people.owner)
    assert (limits.wax_left_um, limits.weight_asked, limits.photo_asked) == (0, True, False)
    assert (limits.fill_tolerance_ppm, limits.share_tolerance_ppm) == (50_000, 50_000)
    assert BurnLimits.objects.count() == 2
    page = plain(maker.get(url))
    # Flame, vessel, cycles, soot and the depth of wax were changed; the flame at the bottom and the rest were not.
    assert page.count("The studio's own figure.") == 5
    assert page.count("EN 15493:2019") == 1
    with nothing_moves():
        page = owner.post(url, data | {"cycles": "0", "submission_key": key()})
    refused(page, page.context["form"], "cycles", "1")


def test_the_owner_sets_how_far_a_test_reaches(filled, owner, maker):
    url = reverse("batches:burn-limits")
    data = {"flame_um": "60", "soot": "none", "mushrooming": "slight", "cycles": "4", "submission_key": key()}
    data |= {"wax_left_um": "12"}

    owner.post(url, data | {"fill_tolerance_ppm": "2.5", "share_tolerance_ppm": "0"})

    limits = burning.limits_in_force()
    assert (limits.fill_tolerance_ppm, limits.share_tolerance_ppm) == (25_000, 0)
    page = plain(maker.get(url))
    assert "2.5 %" in page
    assert "5 % is where a studio begins: common practice, no source" in page


def test_a_version_that_no_test_covers_says_in_what_it_differs(filled, maker):
    """The candle is 100 g at 8 % of melt, 8.7 % of wax; this one has 10 % of wax, a dye and 120 g."""
    books = filled.books
    books.burn(filled.candle)
    lines = [
        formulas.Ingredient(line.item, line.basis, line.amount)
        for line in filled.candle.lines.exclude(item__kind="fragrance")
    ]
    scent = filled.candle.lines.get(item__kind="fragrance").item
    lines += [
        formulas.Ingredient(scent, "of_wax", 100_000),
        formulas.Ingredient(books.item("dye"), "of_wax", 10_000),
    ]
    process = {"fill_ug": 120_000_000, "loss_ppm": 0, "division_ug": 1_000_000}
    version = formulas.write_version(filled.candle.formula, process, lines, signature=books.sign())

    page = plain(maker.get(state_url(version)))

    assert "Not known" in page
    for difference in (
        f"{scent} 10 % of wax, burned at 8.7 %",
        "1 % of wax of dye that was not burned",
        "fill 120 g, burned at 100 g",
    ):
        assert difference in page
    with nothing_moves():
        answer = maker.post(
            state_url(version), {"state": "approved", "reason": "Same scent", "submission_key": key()}
        )
    refused(answer, answer.context["form"], "state", "Only the owner may approve this")


def test_a_missing_maximum_is_said_on_the_version_and_when_it_is_planned(filled, maker):
    item = filled.candle.lines.get(item__kind="fragrance").item
    said = f"No maximum load is on record for {item}"
    pages = (filled.candle.get_absolute_url(), f"/batches/plan/?formula={filled.candle.pk}&quantity=3")
    Item.objects.filter(pk=item.pk).update(maximum_load_ppm=120_000, maximum_load_basis="of_wax")
    assert [said in plain(maker.get(url)) for url in pages] == [False, False]

    Item.objects.filter(pk=item.pk).update(maximum_load_ppm=None, maximum_load_basis="")

    assert [said in plain(maker.get(url)) for url in pages] == [True, True]


def test_the_list_of_burn_tests_filters_and_exports_every_reading(filled, maker):
    page = plain(maker.get(reverse("batches:burn-list")))
    assert "5.5 g an hour" in page
    assert "Burned evenly" in page
    assert "5.5 g an hour" not in plain(maker.get(reverse("batches:burn-list"), {"state": "passed"}))

    rows = csv_of(maker, f"{reverse('batches:burn-list')}?format=csv")

    mine = [row for row in rows if row["Burn test"] == str(filled.burning.pk)]
    assert [(row["Jar"], row["Cycle"], row["Burned, g"], row["Burn rate, g/h"]) for row in mine] == [
        ("1", "1", "20", "5"),
        ("2", "1", "22", "5.5"),
        ("1", "2", "22", "5.5"),
        ("2", "2", "24", "6"),
    ]
    assert mine[2]["Beyond the limits"].replace(NBSP, " ") == "Flame 80 mm, above 75 mm."
    assert (mine[0]["Vessel, °C"], mine[0]["Pool across, mm"]) == ("47.500000", "61")
    answer = maker.get(f"{reverse('batches:burn-list')}?format=xlsx")
    assert load_workbook(io.BytesIO(answer.content)).active.max_row == 1 + len(rows)


@pytest.mark.parametrize("act", ["start", "read", "strike", "decide", "state", "copy"])
def test_every_press_counts_once(filled, owner, act):
    version = [filled.draft.formula_id, filled.draft.number]
    url, data = {
        "start": (reverse("batches:burn-start", args=version), jars("350")),
        "read": (read_url(filled.burning), seen(filled.burning, 3, {"weight": "300"}, {"weight": "299"})),
        "strike": (
            reverse("batches:burn-strike", args=[filled.burning.pk, filled.read.pk]),
            {"reason": "slip", "submission_key": key()},
        ),
        "decide": (
            decide_url(filled.burning),
            {"state": "failed", "verdict": "Soot", "submission_key": key()},
        ),
        "state": (
            reverse("batches:version-state", args=version),
            {"state": "retired", "reason": "Never poured", "submission_key": key()},
        ),
        "copy": (
            reverse("batches:formula-copy", args=version),
            {"name": "Copied", "item": str(filled.candle.formula.item_id), "submission_key": key()},
        ),
    }[act]
    kept = (BurnTest, BurnReading, StateChange, Formula)
    before = [model.objects.count() for model in kept]

    first, second = owner.post(url, data), owner.post(url, data)

    assert (first.status_code, second.status_code) == (302, 302)
    if act == "read":
        # A cycle that was read is answered with where it is to be seen.
        assert BurnReading.objects.filter(jar__test=filled.burning, cycle=3).count() == 2
    assert sum(model.objects.count() for model in kept) - sum(before) <= {"read": 2}.get(act, 1)


# Approving


def state_url(version):
    return reverse("batches:version-state", args=[version.formula_id, version.number])


def test_the_page_says_of_each_condition_whether_it_is_met(filled, maker):
    Item.objects.filter(name="wax").update(maximum_load_ppm=80_000, maximum_load_basis="of_wax")
    page = plain(maker.get(state_url(filled.candle)))

    # 8 % of melt is 8/92, 8.7 % of wax.
    assert f"Passed: burn test {filled.burned.pk} of Cedar & Black Tea, version 1." in page
    assert "8.7 % of wax = 8 % of melt, at most 8 % of wax." in page
    assert "No maximum is on record for fragrance." in page
    assert reverse("inventory:item-change", args=[filled.books.item("fragrance").pk]) in page
    # Another test of it still burns, with a flame beyond the limits; it comes first.
    own, *others = maker.get(state_url(filled.candle)).context["conditions"]
    assert (own.answer, "is still burning, beyond its limits" in own.found) == ("Not met", True)
    assert [each.answer for each in others] == [
        "Met",
        "Not met",
        "Not known",
    ]
    assert "category 12" in page


def test_a_maker_does_not_approve_what_lacks_something_and_the_owner_does(filled, maker, owner):
    url = state_url(filled.draft)
    shown = owner.get(url).context["form"].initial["shown"]
    data = {"state": "approved", "reason": "Burned at home", "shown": shown, "submission_key": key()}
    with nothing_moves():
        page = maker.post(url, data)
    refused(page, page.context["form"], "state", "only the owner", typed=["Burned at home"])
    with nothing_moves():
        page = owner.post(url, data | {"shown": "something else"})
    assert page.status_code == 422
    assert "changed meanwhile" in text_of(page)
    assert f'value="{shown}"' in text_of(page)

    assert owner.post(url, data).headers["Location"] == filled.draft.get_absolute_url()

    filled.draft.refresh_from_db()
    assert filled.draft.state == "approved"
    assert "Burned at home" in text_of(maker.get(filled.draft.get_absolute_url()))
    # Approved, it stays as it is.
    change = reverse("batches:version-change", args=[filled.draft.formula_id, filled.draft.number])
    assert maker.get(change).headers["Location"] == filled.draft.get_absolute_url()


@pytest.mark.parametrize("reason", ["", "x" * 301])
def test_a_state_is_not_changed_without_a_reason(filled, owner, reason):
    with nothing_moves():
        page = owner.post(
            state_url(filled.draft), {"state": "retired", "reason": reason, "submission_key": key()}
        )
        same = owner.post(state_url(filled.draft), {"state": "trial", "reason": "x", "submission_key": key()})

    assert (page.status_code, same.status_code) == (422, 422)


def test_an_approval_on_the_owner_s_word_shows_wherever_the_formula_and_its_batches_show(filled, maker):
    said = "Sold at the fair for two years"
    shown = {
        "formula": filled.rain.formula.get_absolute_url(),
        "version": filled.rain.get_absolute_url(),
        "state": state_url(filled.rain),
        "batch": filled.overdue.get_absolute_url(),
        "plan": f"/batches/plan/?formula={filled.rain.pk}&quantity=3",
    }
    for what, url in shown.items():
        page = plain(maker.get(url))
        assert said in page, what
        assert "Approved by Maren although no burn test of this combination was passed" in page, what
    assert "Approved on the owner's word" in plain(maker.get("/formulas/"))
    ticket = maker.get(reverse("batches:batch-ticket", args=[filled.overdue.code]))
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(ticket.content)).pages)
    assert said in " ".join(text.split())
    assert said not in plain(maker.get(filled.finished.get_absolute_url()))


def test_a_version_retired_while_it_was_being_planned_is_a_sentence(filled, maker, monkeypatch):
    stale = FormulaVersion.objects.filter(pk=filled.candle.pk).select_related("formula__item")
    monkeypatch.setattr(
        "batches.planning.forms.PlanForm.clean",
        lambda form: form.cleaned_data | {"formula": stale.get(), "understood": 3},
    )
    FormulaVersion.objects.filter(pk=filled.candle.pk).update(state="retired")
    data = {
        "formula": str(filled.rain.pk),
        "quantity": "3",
        "planned_on": "2026-03-25",
        "submission_key": key(),
    }
    with nothing_moves():
        page = maker.post("/batches/plan/", data)

    refused(page, page.context["form"], "formula", "is retired")


# Copied and compared


def test_a_formula_is_copied_for_another_product(filled, maker):
    url = reverse("batches:formula-copy", args=[filled.candle.formula_id, 1])
    tin = filled.books.item("Cedar tin", kind="finished", unit="each")
    with nothing_moves():
        page = maker.post(
            url, {"name": filled.candle.formula.name.upper(), "item": str(tin.pk), "submission_key": key()}
        )
    refused(page, page.context["form"], "__all__", "exists already")

    answer = maker.post(url, {"name": "Cedar tin", "item": str(tin.pk), "submission_key": key()})

    made = Formula.objects.get(name="Cedar tin").versions.get()
    assert answer.headers["Location"] == made.get_absolute_url()
    assert (made.state, made.lines.count(), made.cure_days) == ("trial", 4, 7)


def test_two_versions_stand_side_by_side_with_what_differs_marked(filled, maker):
    url = reverse("batches:version-compare")
    page = plain(maker.get(url, {"left": filled.candle.pk, "right": filled.draft.pk}))

    # The draft has no wick and no vessel, 7 % and not 8, no cure and no pour window.
    assert "8 % of melt, 8 g in one" in page
    assert "7 % of melt, 7 g in one" in page
    assert page.count("Only left") >= 2
    assert "Differs" in page
    assert "8.7 %" in page
    assert "7.53 %" in page
    assert filled.draft.what_changed in page
    owners = plain(maker.get(url, {"left": filled.candle.pk, "right": filled.rain.pk}))
    assert "Approved by Maren although no burn test of this combination was passed" in owners
    assert "Nothing differs" in plain(maker.get(url, {"left": filled.candle.pk, "right": filled.candle.pk}))
    assert maker.get(url, {"left": "999999", "right": "x"}).status_code == 422


# Fill weight


def work(**fields):
    data = {"method": "volume", "volume": "200", "volume_unit": "mL", "density": "0.9", "share": "100"}
    return {f"work-{name}": value for name, value in (data | fields).items()} | {"work-out": "1"}


def work_url(filled):
    return reverse("batches:fill-weight", args=[filled.candle.formula_id])


@pytest.mark.parametrize(
    ("fields", "grams_shown", "ounces"),
    [
        # 200 mL × 0.90 = 180 g; 16 US fl oz × 0.86 = 406.93 g = 14.354 oz, not 13.76 (see checks of the arithmetic).
        ({}, "180 g", "6.349 oz"),
        ({"volume": "16", "volume_unit": "fl oz", "density": "0.86"}, "406.93 g", "14.354 oz"),
        ({"share": "85"}, "153 g", "5.397 oz"),
        # 200 g of water at 20 °C fill 200.3593 mL; × 0.9.
        ({"method": "water", "water": "200", "water_at": "20"}, "180.32 g", "6.361 oz"),
        ({"method": "filled", "full": "431", "empty": "226", "density": ""}, "205 g", "7.231 oz"),
    ],
)
def test_a_fill_weight_is_worked_out_and_used(filled, maker, fields, grams_shown, ounces):
    page = plain(maker.post(work_url(filled), work(**fields)))

    assert grams_shown in page
    assert ounces in page
    typed = grams_shown.removesuffix(" g")
    assert f"?fill={typed}" in page
    url = reverse("batches:version-add", args=[filled.candle.formula_id])
    assert f'name="fill_ug" value="{typed}"' in text_of(maker.get(url, {"fill": typed}))


def test_the_melt_s_density_comes_from_the_lines_and_what_is_missing_is_named(filled, maker):
    wax, oil = filled.books.item("wax"), filled.books.item("fragrance")
    page = plain(maker.post(work_url(filled), work(density="")))
    assert "not known of every line" in page
    assert reverse("inventory:item-change", args=[wax.pk]) in page
    Item.objects.filter(pk=wax.pk).update(density_ug_per_ml=900_000)
    Item.objects.filter(pk=oil.pk).update(density_ug_per_ml=1_000_000)

    # The latest version: 93 g of wax and 7 g of fragrance fill 103.333 + 7 mL: 100/110.333 = 0.906344 g/mL; × 200 mL.
    page = plain(maker.post(work_url(filled), work(density="")))

    assert "0.9063 g/mL" in page
    assert "181.27 g" in page


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({"volume": ""}, "volume", ["fill this in"]),
        ({"volume": "0"}, "volume", ["above zero"]),
        ({"volume": "1,5"}, "volume", ["point"]),
        ({"volume": "999999999"}, "volume", ["volume"]),
        ({"density": "9"}, "density", ["between 0.3 and 3"]),
        ({"share": "0"}, "share", ["above 0"]),
        ({"share": "101"}, "share", ["up to 100"]),
        ({"method": "water", "water": "200", "water_at": "95"}, "water_at", ["between 0"]),
        ({"method": "filled", "full": "226", "empty": "226"}, "full", ["no more full"]),
        ({"method": "guess"}, "method", ["from the list"]),
    ],
)
def test_a_measurement_that_cannot_be_is_refused_at_its_field(filled, maker, fields, field, words):
    page = maker.post(work_url(filled), work(**fields))

    refused(page, page.context["form"], field, *words)


def test_what_was_typed_into_the_formula_survives_working_out_its_fill(filled, maker):
    lines = [ingredient(filled, "wax", "wax_share", "100"), ingredient(filled, "fragrance", "of_wax", "oops")]
    typed = formula(lines, fill_ug="99", notes="Half a note", what_changed="<b>bold</b>")
    form = maker.post(work_url(filled), typed)
    assert form.status_code == 200
    assert "do not make a formula yet" in text_of(form)

    shown = maker.post(work_url(filled), typed | work())
    carried = dict(shown.context["carried"]) | {"fill_ug": shown.context["typed"], "use_fill": "1"}
    with nothing_moves():
        page = maker.post(reverse("batches:version-add", args=[filled.candle.formula_id]), carried)

    text = text_of(page)
    assert page.status_code == 200
    assert 'name="fill_ug" value="180"' in text
    assert 'value="oops"' in text
    assert "Half a note" in text
    assert b"<b>bold" not in page.content
    assert "error-summary" not in text
    # Back without a result leaves the fill weight as it was.
    back = maker.post(
        reverse("batches:version-add", args=[filled.candle.formula_id]),
        dict(form.context["carried"]) | {"use_fill": "1"},
    )
    assert 'name="fill_ug" value="99"' in text_of(back)


def test_the_declared_weight_is_the_fill_unless_it_is_less(filled, maker):
    url = reverse("batches:version-add", args=[filled.candle.formula_id])
    lines = [ingredient(filled, "wax", "wax_share", "100")]
    with nothing_moves():
        page = maker.post(url, formula(lines, fill_ug="100", declared_ug="100.1"))
    refused(page, page.context["form"], "declared_ug", "more would be declared", typed=["100.1"])

    for declared, kept in (("", 100), ("95", 95)):
        assert maker.post(url, formula(lines, fill_ug="100", declared_ug=declared)).status_code == 302
        assert FormulaVersion.objects.latest("pk").declared_ug == grams(kept)


def test_today_names_a_test_that_burns_until_it_is_decided(filled, owner):
    (task,) = [task for task in owner.get("/").context["tasks"] if task.word == "Burning"]
    assert task.more == "begun Wed 18 Mar, cycle 3 is next"
    assert task.url == filled.burning.get_absolute_url()

    filled.books.read(filled.burning, 3, {"wax_left_um": 12_000}, None, kind="end")
    (task,) = [task for task in owner.get("/").context["tasks"] if task.word == "Burning"]
    assert task.more == "begun Wed 18 Mar, cycle 4 is next"
    filled.books.read(filled.burning, 3, None, {"wax_left_um": 12_000}, kind="end")
    (task,) = [task for task in owner.get("/").context["tasks"] if task.word == "Burning"]
    assert task.more == "begun Wed 18 Mar, burned to its end, decide"

    burning.decide(filled.burning.pk, "failed", signature=filled.books.sign(day(20), "Soot"))

    assert "Burning" not in [task.word for task in owner.get("/").context["tasks"]]


def test_a_photo_lies_beside_a_burn_test(filled):
    maker = enter(filled.people.maker)
    add = reverse("batches:burn-photo-add", args=[filled.burning.pk])
    sent = {"text": "Soot on the glass", "submission_key": key()}
    for _ in range(2):
        page = maker.post(add, {**sent, "photo": SimpleUploadedFile("soot.jpg", phone_photo())})
        assert page.headers["Location"] == f"{filled.burning.get_absolute_url()}#photos"

    assert filled.burning.photos.filter(text="Soot on the glass").count() == 1
    photo = filled.burning.photos.get(text="Soot on the glass")
    shown = maker.get(reverse("batches:burn-photo", args=[filled.burning.pk, photo.pk]))
    assert (shown.status_code, shown.headers["Content-Type"]) == (200, photo.media_type)
    assert hashlib.sha256(shown.content).hexdigest() == photo.digest
    assert b"Exif" not in shown.content
    assert maker.get(reverse("batches:burn-photo", args=[filled.burned.pk, photo.pk])).status_code == 404


@pytest.mark.parametrize(
    ("content", "words"), [(b"", "empty"), (b"%PDF-1.7\n%%EOF", "photo"), (b"<svg onload=alert(1)>", "")]
)
def test_only_a_picture_lies_beside_a_burn_test(filled, content, words):
    maker = enter(filled.people.maker)
    before = filled.burning.photos.count()

    page = maker.post(
        reverse("batches:burn-photo-add", args=[filled.burning.pk]),
        {"submission_key": key(), "photo": SimpleUploadedFile("soot.jpg", content)},
    )

    assert page.status_code == 422
    assert words in str(page.context["form"].errors["photo"])
    assert filled.burning.photos.count() == before
