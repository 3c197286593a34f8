"""How a run ends, through the pages: at once, in parts, with melt recovered, given up, taken back; and the defects."""

import re

import pytest
from django.urls import reverse

from batches.models import Batch, Defect, Flaw, Outcome
from batches.planning import plans
from batches.production import runs
from inventory.models import Lot, Posting
from studio.core.numerals import NBSP
from tests.house import TODAY, day, grams, money
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused
from tests.web.inspection import csv_of, text_of


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def batch(filled):
    """Ten candles: 920 g of wax and 80 g of fragrance drawn, and ten wicks and vessels."""
    batch = filled.books.plan(filled.candle, 10)
    filled.books.fill(filled.shelf, batch, at=day(19))
    return batch


def url(name, batch):
    return reverse(f"batches:batch-{name}", args=[batch.code])


def ended(**fields):
    """Everything the page "finish" sends."""
    return {"good": "", "seconds": "", "last": "all", "submission_key": key(), **fields}


def said(page):
    return text_of(page).replace(NBSP, " ").replace("&nbsp;", " ")


def came(batch):
    outcomes = Outcome.objects.filter(batch=batch).standing().order_by("pk")
    return [(outcome.result, outcome.quantity, outcome.defect) for outcome in outcomes]


def test_everything_that_came_out_is_kept_with_its_word(filled, maker, batch):
    # 1,000 g of melt fill ten of 100 g; six good and one second of ten are 70 %.
    data = ended(
        good="6", seconds="1", scrap_1="1", defect_1="Cracking", scrap_4="1", defect_4="Frosting", rework="1"
    )
    kept = filled.books.item("Kept melt", kind="wax", made_here=True)
    data |= {"remelt_item": str(kept.pk)}

    answer = maker.post(url("finish", batch), data | {"retained": "2"})

    assert answer.headers["Location"] == batch.get_absolute_url()
    assert came(batch) == [
        ("good", 6, ""),
        ("second", 1, ""),
        ("scrap", 1, "Cracking"),
        ("scrap", 1, "Frosting"),
        ("rework", 1, ""),
        ("melt", grams(100), ""),
    ]
    assert [lot.on_hand for lot in Lot.objects.filter(outcome__batch=batch).order_by("pk")] == [
        4,
        1,
        grams(100),
    ]
    assert Posting.objects.filter(kind="sample").latest("pk").reason == "Retained sample"
    text = said(maker.get(batch.get_absolute_url()))
    for words in (
        "70 %",
        "1,000 g of melt drawn would fill 10 at 100 g each",
        "Kept as samples",
    ):
        assert words in text, words
    assert "To be melted again" in text
    # A rule for makers of drugs is the model of the figure and no law for candles: no page cites it.
    assert "CFR" not in text


def test_time_worked_is_noted_with_what_came_out(filled, maker, batch):
    tobin, maren = filled.people.maker.pk, filled.people.owner.pk
    data = ended(
        good="10", minutes_1="40", step_1="weigh", person_1=maren, minutes_2="", step_2="pour", person_2=tobin
    )
    with nothing_moves():
        page = maker.post(
            url("finish", batch), data | {"minutes_3": "1441", "step_3": "label", "person_3": tobin}
        )
        refused(page, page.context["form"], "minutes_3", "1440", typed=["1441"])
        page = maker.post(url("finish", batch), data | {"minutes_3": "5", "step_3": "", "person_3": ""})
        refused(page, page.context["form"], "step_3", "what the time was spent on")
    assert not batch.labour.exists()

    data |= {"minutes_3": "25", "step_3": "label", "person_3": tobin, "submission_key": key()}
    assert maker.post(url("finish", batch), data).status_code == 302

    found = batch.labour.values_list("person", "step", "minutes", "worked_on", "recorded_by")
    assert list(found) == [(maren, "weigh", 40, TODAY, tobin), (tobin, "label", 25, TODAY, tobin)]


def test_time_worked_lands_with_what_came_out_or_neither_does(filled, maker, batch, monkeypatch):
    def refuse(*args, **kwargs):
        raise plans.BatchError("Nobody worked on it.")

    monkeypatch.setattr(runs, "note_labour", refuse)
    worked = {"minutes_1": "40", "step_1": "weigh", "person_1": filled.people.maker.pk}
    with nothing_moves():
        page = maker.post(url("finish", batch), ended(good="10", **worked))
    assert "Nobody worked on it." in said(page)
    assert came(batch) == []


def test_what_is_wrong_with_seconds_is_kept_beside_them(filled, maker, owner, batch):
    data = ended(good="7", seconds="3", flawed_1="2", flaw_1="Frosting", flawed_3="1", flaw_3="Cracking")

    def given():
        times = {defect.words: times for defect, times in maker.get("/defects/").context["rows"]}
        return [times[words] for words in ("Frosting", "Cracking", "Sinkhole")]

    before = given()
    assert maker.post(url("finish", batch), data).status_code == 302

    assert came(batch) == [("good", 7, ""), ("second", 3, "")]
    assert list(Flaw.objects.values_list("outcome__result", "defect", "quantity")) == [
        ("second", "Frosting", 2),
        ("second", "Cracking", 1),
    ]
    page = re.sub("<[^>]+>", "", said(owner.get(batch.get_absolute_url())))
    assert "3: 2 frosting, 1 cracking" in page
    assert given() == [before[0] + 1, before[1] + 1, before[2]]
    frosting = Defect.objects.get(words="Frosting")
    page = maker.get(reverse("batches:defect-change", args=[frosting.pk]))
    assert page.context["form"].fields["words"].disabled


def test_a_run_is_finished_in_parts_and_the_last_part_taken_back(filled, maker, batch):
    page = url("finish", batch)
    assert maker.post(page, ended(good="4", last="part")).status_code == 302
    assert Batch.objects.get(pk=batch.pk).state == "started"
    text = said(maker.get(batch.get_absolute_url()))
    assert "What came out so far" in text
    assert "Still to come" in text
    assert "Part 1, 20 Mar 2026" in text
    assert "4 came out before" in said(maker.get(page))

    assert maker.post(page, ended(good="5", scrap_1="1", defect_1="Cracking")).status_code == 302
    assert Batch.objects.get(pk=batch.pk).state == "finished"
    text = said(maker.get(batch.get_absolute_url()))
    assert "Part 2" in text
    assert "90 %" in text

    again = url("reopen", batch)
    assert "Take back the last part" in said(maker.get(again))
    seen = str(maker.get(again).context["seen"])
    data = {"reason": "Counted again", "seen": seen, "submission_key": key()}
    assert maker.post(again, data).status_code == 302
    assert came(batch) == [("good", 4, "")]
    assert Batch.objects.get(pk=batch.pk).state == "started"


def test_melt_that_was_recovered_goes_back_on_the_shelf(filled, maker, batch):
    # 250 g of the 1,000 g in the pot: a quarter of 6.20356 and 3.8456, 2.51229.
    blend = filled.books.item("Lane blend")

    maker.post(
        url("finish", batch),
        ended(good="7", melt_item=str(blend.pk), melt_amount="250", mix_scents="on", left_unknown="on"),
    )

    lot = Lot.objects.get(outcome__batch=batch, item=blend)
    assert (lot.on_hand, lot.value) == (grams(250), money("2.51229"))
    text = said(maker.get(batch.get_absolute_url()))
    assert "250 g of Lane blend" in text
    assert lot.code in text
    # The seven carry the rest, and so says the cost: 32.21916 less 2.51229, and overhead 7.40.
    page = said(enter(filled.people.owner).get(batch.get_absolute_url()))
    assert "$29.71" in page
    assert "$37.11" in page
    assert 'Gone with recovered melt</dt><dd><span class="figure">$2.51</span>' in page


@pytest.mark.parametrize(
    ("fields", "field", "words"),
    [
        ({}, "good", "how many came out"),
        ({"good": "4", "retained": "5"}, "retained", "not as many"),
        ({"good": "4", "melt_amount": "20"}, "melt_item", "Choose what"),
        ({"good": "4", "melt_item": "blend"}, "melt_amount", "Weigh the Lane blend"),
        ({"good": "4", "melt_item": "blend", "melt_amount": "2 l"}, "melt_amount", "volume"),
        ({"good": "4", "melt_item": "wax", "melt_amount": "20"}, "melt_item", "from the list"),
        ({"good": "4", "scrap_5": "1"}, "defect_5", "what was wrong"),
        ({"good": "4", "scrap_1": "1", "defect_1": "Retired defect"}, "defect_1", "from the list"),
        ({"good": "4", "rework": "-1"}, "rework", "minus"),
        ({"good": "4", "seconds": "2", "flawed_1": "3", "flaw_1": "Frosting"}, "seconds", "more than these"),
        ({"good": "4", "seconds": "2", "flawed_4": "1"}, "flaw_4", "what was wrong"),
        ({"good": "4", "seconds": "2", "flaw_2": "Frosting"}, "flawed_2", "is of second quality"),
        ({"good": "4", "last": "perhaps"}, "last", "from the list"),
        ({"good": "4", "last": ""}, "last", "was this all"),
        ({"good": "99"}, "good", "Check the figures"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(filled, maker, batch, fields, field, words):
    Defect.objects.create(words="Retired defect", retired=True)
    items = {
        name: str(filled.books.item(item).pk) for name, item in (("blend", "Lane blend"), ("wax", "wax"))
    }
    data = {name: items.get(value, value) for name, value in fields.items()}
    with nothing_moves():
        page = maker.post(url("finish", batch), ended(**data))

    refused(page, page.context["form"], field, words)


def test_what_came_out_before_counts_when_it_is_asked_whether_it_can_be(filled, maker, batch):
    filled.books.finish(batch, good=9, last=False)
    with nothing_moves():
        page = maker.post(url("finish", batch), ended(good="9"))

    refused(
        page,
        page.context["form"],
        "good",
        f"18, 9 of them before, hold 1,800{NBSP}g of melt",
        f"1,000{NBSP}g",
    )
    assert maker.post(url("finish", batch), ended(good="9", sure="on", left_unknown="on")).status_code == 302


def test_a_run_is_given_up_and_taken_up_again(filled, maker, batch):
    # Half of the 1,000 g: half of 10.04916 is 5.02458.
    blend = filled.books.item("Lane blend")
    page = url("give-up", batch)
    assert page in text_of(maker.get(batch.get_absolute_url()))
    data = {
        "reason": "The pot scorched",
        "melt_item": str(blend.pk),
        "melt_amount": "500",
        "mix_scents": "on",
    }

    assert maker.post(page, data | {"submission_key": key()}).status_code == 302

    batch.refresh_from_db()
    assert (batch.state, batch.note) == ("abandoned", "Given up: The pot scorched")
    lot = Lot.objects.get(outcome__batch=batch)
    assert (lot.on_hand, lot.value) == (grams(500), money("5.02458"))
    text = said(maker.get(batch.get_absolute_url()))
    assert "Given up" in text
    assert "not recovered is lost" in text
    assert batch.code in text_of(maker.get("/batches/?state=abandoned"))
    (row,) = [row for row in csv_of(maker, "/batches/?format=csv") if row["Batch"] == batch.code]
    assert (row["State"], row["Good"], row["Melt recovered, g"]) == ("Given up", "0", "500")
    # Nothing more is done with it.
    for name in ("finish", "give-up"):
        assert maker.get(url(name, batch)).headers["Location"] == batch.get_absolute_url()

    again = url("reopen", batch)
    assert "Take the run up again" in said(maker.get(again))
    seen = str(maker.get(again).context["seen"])
    data = {"reason": "It melts after all", "seen": seen, "submission_key": key()}
    assert maker.post(again, data).status_code == 302
    batch.refresh_from_db()
    assert (batch.state, came(batch)) == ("started", [])


def test_a_run_is_not_given_up_without_a_reason_or_once_something_came_out(filled, maker, batch):
    page = url("give-up", batch)
    with nothing_moves():
        refused(
            answer := maker.post(page, {"submission_key": key()}), answer.context["form"], "reason", "Fill"
        )
    filled.books.finish(batch, good=1, last=False)
    with nothing_moves():
        answer = maker.post(page, {"reason": "Enough", "submission_key": key()})
    assert answer.status_code == 422
    assert "Some of it came out already" in said(answer)
    assert page not in text_of(maker.get(batch.get_absolute_url()))


def test_a_run_that_was_finished_by_somebody_else_meanwhile_is_left_alone(filled, maker, batch):
    filled.books.finish(batch, good=10)
    with nothing_moves():
        answer = maker.post(url("finish", batch), ended(good="1"))
    assert "Nothing of yours was saved" in said(answer)
    assert maker.get(url("finish", batch)).headers["Location"] == batch.get_absolute_url()


def test_a_part_sent_twice_comes_out_once(filled, maker, batch):
    data = ended(good="4", last="part")

    for _ in range(2):
        assert maker.post(url("finish", batch), data).status_code == 302

    assert came(batch) == [("good", 4, "")]


def test_what_came_out_in_two_parts_leaves_as_a_row(filled, maker):
    (row,) = [row for row in csv_of(maker, "/batches/?format=csv") if row["Batch"] == filled.in_parts.code]

    assert [row[head] for head in ("State", "Good", "Scrap", "To be melted again")] == [
        "Finished",
        "0",
        "1",
        "1",
    ]


def test_melt_is_traced_back_to_the_pot_it_came_from(filled, maker):
    page = said(maker.get(reverse("batches:trace-code", args=[filled.recovered.code])))

    words = " ".join(re.sub("<[^>]+>", " ", page).split())
    assert f"{filled.abandoned.spaced_code} batch of Cedar & Black Tea, 50 g recovered as melt" in words
    forward = said(maker.get(reverse("batches:trace-code", args=[filled.abandoned.code])))
    assert "recovered as melt" in forward


# Defects


def test_a_defect_is_added_and_offered(filled, maker):
    assert (
        maker.post("/defects/add/", {"words": " Lopsided   rim ", "submission_key": key()}).status_code == 302
    )

    assert Defect.objects.filter(words="Lopsided rim", retired=False).exists()
    assert "Lopsided rim" in text_of(maker.get(url("finish", filled.started)))


@pytest.mark.parametrize(
    ("words", "sentence"), [("sinkhole", "on the list already"), ("  ", "Fill"), ("", "Fill")]
)
def test_a_defect_twice_or_without_words_is_refused(filled, maker, words, sentence):
    before = Defect.objects.count()

    page = maker.post("/defects/add/", {"words": words, "submission_key": key()})

    assert page.status_code == 422
    assert sentence in text_of(page)
    assert Defect.objects.count() == before


def test_a_defect_is_reworded_while_nothing_carries_it_and_only_retired_afterwards(filled, maker):
    # Cracking and Frosting were given; Sweating never was.
    def change(of, **fields):
        defect = Defect.objects.get(words=of)
        page = reverse("batches:defect-change", args=[defect.pk])
        shown = {"initial-words": of, "initial-retired": "False"}
        assert maker.post(page, {**shown, **fields, "submission_key": key()}).status_code == 302
        defect.refresh_from_db()
        return defect.words, defect.retired

    assert change("Sweating", words="Sweating oil") == ("Sweating oil", False)
    assert change("Cracking", words="Crazing", retired="on") == ("Cracking", True)
    text = text_of(maker.get("/defects/"))
    assert "Retired" in text
    assert ">Cracking</option>" not in text_of(maker.get(url("finish", filled.started)))


def test_the_list_says_how_often_each_was_given(filled, maker):
    rows = {defect.words: times for defect, times in maker.get("/defects/").context["rows"]}

    assert (rows["Frosting"], rows["Cracking"], rows["Sinkhole"]) == (1, 1, 0)


def test_a_bookkeeper_reads_the_defects_and_changes_none(filled):
    text = text_of(enter(filled.people.bookkeeper).get("/defects/"))

    assert "Frosting" in text
    assert "Add a defect" not in text


def test_a_minutes_note_is_reached_from_the_finish_page(filled, maker):
    assert f"{filled.started.get_absolute_url()}#labour" in text_of(maker.get(url("finish", filled.started)))


def test_the_theoretical_yield_of_a_blend_is_what_was_drawn(filled, maker):
    # 490 g of 500 g: 98 %.
    text = said(maker.get(filled.blend.get_absolute_url()))

    assert "98 %" in text
    assert "500 g were drawn" in text


def test_the_list_of_defects_begins_with_the_trades_own_words(filled):
    # Trade glossaries, common practice: what is seen on a candle before it burns.
    words = {"Sinkhole", "Wet spots", "Frosting", "Rough top", "Cracking", "Air bubbles", "Jump lines"}
    words |= {"Discolouration", "Sweating", "Wick off centre"}

    assert words <= set(Defect.objects.filter(retired=False).values_list("words", flat=True))


def test_melt_of_another_scent_is_asked_about_and_what_was_typed_stays(filled, maker, batch):
    # Lane blend on the shelf is wax alone; the pot holds fragrance.
    blend = filled.books.item("Lane blend")
    data = ended(good="7", melt_item=str(blend.pk), melt_amount="250", left_unknown="on")

    with nothing_moves():
        answer = maker.post(url("finish", batch), data)

    text = said(answer)
    assert "Lane blend on the shelf holds no fragrance; this melt holds fragrance." in text
    assert "Yes, keep them together" in text
    assert 'value="250"' in answer.content.decode()
    maker.post(url("finish", batch), data | {"mix_scents": "on", "submission_key": key()})
    assert Lot.objects.get(outcome__batch=batch, item=blend).on_hand == grams(250)


def test_more_melt_than_was_weighed_in_is_refused_beside_its_field_whoever_is_sure(filled, maker, batch):
    kept = filled.books.item("Kept melt", kind="wax", made_here=True)
    data = ended(good="7", melt_item=str(kept.pk), melt_amount="2,500", sure="on", left_unknown="on")

    with nothing_moves():
        answer = maker.post(url("finish", batch), data)

    refused(answer, answer.context["form"], "melt_amount", "would be recovered of", typed=["2,500"])


def test_melt_kept_with_its_own_scent_is_not_asked_about(filled, maker, batch):
    kept = filled.books.item("Kept melt", kind="wax", made_here=True)
    data = {"melt_item": str(kept.pk), "left_unknown": "on"}
    maker.post(url("finish", batch), ended(good="7", melt_amount="100", **data))
    other = filled.books.plan(filled.candle, 10)
    filled.books.fill(filled.shelf, other, at=day(19))

    maker.post(url("finish", other), ended(good="9", melt_amount="50", **data))

    assert sorted(Lot.objects.filter(item=kept).values_list("on_hand", flat=True)) == [grams(50), grams(100)]


@pytest.mark.parametrize(
    ("typed", "kept", "words"),
    [
        ("", 200, "of the units to remelt, by their fill weight; not weighed"),
        ("188", 188, "of the units to remelt"),
    ],
)
def test_units_to_remelt_become_a_lot_that_waits(filled, maker, batch, typed, kept, words):
    item = filled.books.item("Kept melt", kind="wax", made_here=True)

    data = ended(good="8", rework="2", remelt_item=str(item.pk), remelt_amount=typed)
    maker.post(url("finish", batch), data)

    lot = Lot.objects.get(item=item)
    assert lot.on_hand == grams(kept)
    assert lot.outcome.emptied.quantity == 2
    assert f"{kept} g of Kept melt, {words}" in said(maker.get(batch.get_absolute_url()))
    waiting = said(maker.get(reverse("batches:remelt-list")))
    assert lot.code in waiting
    assert "fragrance 8 %" in waiting


@pytest.mark.parametrize(
    ("fields", "error"),
    [
        ({"rework": "2"}, "Choose what the melt of these units is kept as."),
        ({"remelt_amount": "100"}, "Say how many units are to be melted again."),
        (
            {"rework": "2", "remelt_amount": "401", "remelt": "1"},
            "more than twice what they were filled with",
        ),
        ({"rework": "2", "remelt_amount": "a jar", "remelt": "1"}, "jar"),
    ],
)
def test_units_to_remelt_say_what_becomes_of_them(filled, maker, batch, fields, error):
    item = filled.books.item("Kept melt", kind="wax", made_here=True)
    if fields.pop("remelt", ""):
        fields["remelt_item"] = str(item.pk)

    with nothing_moves():
        text = said(maker.post(url("finish", batch), ended(good="8", **fields)))

    assert error in text
