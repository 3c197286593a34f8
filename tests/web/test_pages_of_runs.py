"""What the pages of plans, batches and formulas say and do, with figures worked out by hand (see `filled`)."""

import io
import re

import pytest
from django.urls import reverse
from pypdf import PdfReader

from batches.models import Batch, Draw
from inventory.models import Lot
from studio.core.numerals import NBSP
from tests.house import grams
from tests.web.conftest import enter
from tests.web.forms import draw_url, drawn, formula, ingredient, key, nothing_moves
from tests.web.inspection import csv_of, text_of


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


def test_the_plan_names_what_is_short_and_what_limits_the_run(filled, maker):
    # Rain on Slate: 8 g of oil in 100 g of melt, and none on the shelf.
    text = text_of(maker.get("/batches/plan/", {"formula": filled.rain.pk, "quantity": "6"}))
    assert "Not enough on the shelf" in text
    assert "Rain on Slate oil: 48 g missing" in text

    # The candle: 888 g of fragrance at 8 g each makes 111, 85 wicks, 36 vessels are the least.
    text = text_of(maker.get("/batches/plan/", {"formula": filled.candle.pk}))
    assert "The shelf has enough for 36; vessel is the limit." in text


def test_a_plan_shown_is_planned_with_one_press(filled, maker):
    data = {
        "formula": str(filled.candle.pk),
        "quantity": "12",
        "planned_on": "2026-03-27",
        "note": "For the fair",
    }
    shown = maker.get("/batches/plan/", data)
    assert 'name="quantity" value="12"' in text_of(shown)

    answer = maker.post("/batches/plan/", data | {"submission_key": key()})

    batch = Batch.objects.latest("pk")
    assert answer.headers["Location"] == batch.get_absolute_url()
    assert (batch.quantity, batch.note, batch.planned_by.username) == (12, "For the fair", "tobin")


def test_the_page_of_a_batch_shows_its_cost_by_head(filled, owner):
    # By hand in `filled`: 6.20356, 3.8456, 1.27, 20.90, 24.60, 7.40; 64.21916 in all, a tenth of it for the scrap.
    page = owner.get(filled.finished.get_absolute_url())
    text = text_of(page)

    for head, figure in (
        ("Wax", "$6.20"),
        ("Fragrance", "$3.85"),
        ("Wick", "$1.27"),
        ("Vessel and lid", "$20.90"),
        ("Labour", "$24.60"),
        ("Overhead", "$7.40"),
        ("In all", "$64.22"),
    ):
        assert f'{head}</th><td class="num">{figure}</td>' in text, head
    assert '<span class="figure hero">$7.14</span>' in text
    assert ">$32.22<" in text
    assert ">$6.42<" in text


def test_the_costing_page_says_the_same(filled, owner):
    (row,) = [row for row in csv_of(owner, "/costing/?format=csv") if row["Batch"] == filled.finished.code]

    assert {
        head: row[head]
        for head in (
            "Wax",
            "Fragrance",
            "Wick",
            "Vessel and lid",
            "Labour",
            "Overhead",
            "In all",
            "Per good unit",
        )
    } == {
        "Wax": "6.203560",
        "Fragrance": "3.845600",
        "Wick": "1.270000",
        "Vessel and lid": "20.900000",
        "Labour": "24.600000",
        "Overhead": "7.400000",
        "In all": "64.219160",
        "Per good unit": "7.135462",
    }
    assert (row["Good"], row["Minutes"]) == ("9", "60")


def test_the_ticket_is_a_pdf_that_carries_the_code(filled, maker):
    answer = maker.get(reverse("batches:batch-ticket", args=[filled.planned.code]))

    assert answer.headers["Content-Type"] == "application/pdf"
    assert answer.headers["Content-Disposition"] == f'inline; filename="batch-{filled.planned.code}.pdf"'
    text = "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert filled.planned.code in text.replace(" ", "").replace(NBSP, "")
    assert "Cedar & Black Tea" in text
    # Eight of 92 g of wax and 8 g of fragrance.
    assert "736" in text


def test_counted_parts_go_in_as_planned_only_when_somebody_says_so(filled, maker):
    """Eight wicks and eight vessels are planned; nobody saw them yet when the page comes."""
    batch, shelf = filled.planned, filled.shelf
    page = maker.get(draw_url(batch)).content.decode()
    assert re.findall(r'name="line\d+-\d+-amount" value', page) == []
    assert "counted_as_planned" in page
    assert "checked" not in page
    wick, vessel = (filled.books.line(batch, name) for name in ("wick", "vessel"))
    left_empty = {"happened_at": ""}
    for line, name in ((wick, "wick"), (vessel, "vessel")):
        assert f'name="line{line}-0-planned" value="8"' in page
        left_empty |= {f"line{line}-0-code": shelf[name].code, f"line{line}-0-planned": "8"}

    refused = maker.post(draw_url(batch), left_empty | {"submission_key": key()})
    assert refused.status_code == 422
    assert "Enter at least one amount." in refused.content.decode()

    said = left_empty | {f"line{wick}-0-amount": "7", "counted_as_planned": "on", "submission_key": key()}
    assert maker.post(draw_url(batch), said).status_code == 302
    drawn_now = Draw.objects.filter(batch=batch).order_by("line__item__name")
    assert [(draw.line.item.name, draw.quantity) for draw in drawn_now] == [("vessel", 8), ("wick", 7)]


def test_a_draw_put_right_to_what_stands_is_refused(filled, maker):
    batch, wax = filled.planned, filled.shelf["wax"]
    assert maker.post(draw_url(batch), drawn(filled, batch, "wax", (wax.code, "735.5"))).status_code == 302
    posting = Draw.objects.get(batch=batch).movement.posting
    url = reverse("batches:draw-correct", args=[batch.code, posting.pk])
    same = drawn(filled, batch, "wax", (wax.code, "0.7355 kg"), reason="Looked at again")
    with nothing_moves():
        page = maker.post(url, same)

    assert page.status_code == 422
    assert "This is what stands." in page.content.decode()
    other = drawn(filled, batch, "wax", (wax.code, "735"), reason="Looked at again")
    assert maker.post(url, other).status_code == 302


def test_what_went_in_is_recorded_from_the_page(filled, maker):
    batch = filled.planned
    data = drawn(
        filled, batch, "wax", (filled.shelf["wax"].code.lower(), "735.5"), happened_at="2026-03-20T11:30"
    )
    data |= drawn(filled, batch, "wick", (filled.shelf["wick"].code, "8"))
    data["happened_at"] = "2026-03-20T11:30"

    assert maker.post(draw_url(batch), data).headers["Location"] == batch.get_absolute_url()

    draws = Draw.objects.filter(batch=batch).order_by("pk")
    assert [(draw.line.item.name, draw.quantity) for draw in draws] == [("wax", 735_500_000), ("wick", 8)]
    batch.refresh_from_db()
    assert batch.state == "started"
    assert draws[0].movement.posting.happened_at.isoformat() == "2026-03-20T11:30:00+00:00"


def test_a_draw_is_put_right_from_the_page_and_both_entries_stay(filled, maker):
    # 920 g were really 902 g; the cost of the nine candles follows: 18 g × 6.743 a kilogram = 0.121374 less.
    wax, posting = filled.shelf["wax"], filled.draws["wax"]
    on_hand, _ = filled.books.of(wax)
    url = reverse("batches:draw-correct", args=[filled.finished.code, posting.pk])
    shown = text_of(maker.get(url))
    assert 'value="920"' in shown
    data = drawn(filled, filled.finished, "wax", (wax.code, "902"), reason="Read the scale wrongly")

    answer = maker.post(url, data)

    assert answer.headers["Location"] == filled.finished.get_absolute_url()
    assert filled.books.of(wax)[0] == on_hand + grams(18)
    posting.refresh_from_db()
    assert posting.reversal.reason == "Read the scale wrongly"
    kept = [
        draw.quantity
        for draw in Draw.objects.filter(batch=filled.finished, line__item__name="wax").order_by("pk")
    ]
    assert kept == [grams(920), grams(902)]
    page = text_of(maker.get(filled.finished.get_absolute_url()))
    assert "Tobin: Read the scale wrongly" in page
    # Seven of nine are still here: 7/9 of −0.121374 is −0.094402.
    assert filled.books.of(filled.cured) == (7, 25_059_347 - 94_402)
    # Opened again, the page says that it was put right, and does nothing.
    assert maker.get(url).headers["Location"] == filled.finished.get_absolute_url()


def test_a_draw_is_not_put_right_without_a_reason(filled, maker):
    url = reverse("batches:draw-correct", args=[filled.finished.code, filled.draws["wax"].pk])
    with nothing_moves():
        page = maker.post(
            url, drawn(filled, filled.finished, "wax", (filled.shelf["wax"].code, "902"), reason="")
        )

    assert page.status_code == 422
    assert 'value="902"' in text_of(page)


def test_a_batch_is_finished_from_the_page(filled, maker):
    # 460 g of wax went in, 0.460 × 6.743 = 3.10178, and five wicks, 5 × 0.127 = 0.635; all of it on the good ones.
    url = reverse("batches:batch-finish", args=[filled.started.code])
    data = {
        "good": "4",
        "last": "all",
        "seconds": "",
        "scrap_1": "1",
        "defect_1": "Frosting",
        "without": "on",
        # Five of 100 g, and 460 g were weighed in.
        "sure": "on",
        "submission_key": key(),
    }

    assert maker.post(url, data).headers["Location"] == filled.started.get_absolute_url()

    (lot,) = Lot.objects.filter(outcome__batch=filled.started)
    assert filled.books.of(lot) == (4, 3_736_780)
    assert lot.ready_on.isoformat() == "2026-03-27"
    text = text_of(maker.get(filled.started.get_absolute_url()))
    assert re.search(r"1, <a [^>]*>frosting</a>", text)
    assert lot.code in text


def opened_again(page):
    """What the page "open again" sends, with what it showed."""
    seen = page.context["seen"]
    return {"reason": "Counted again", "seen": str(seen), "submission_key": key()}


def test_a_finished_batch_is_opened_again_while_all_of_it_is_there(filled, maker):
    url = reverse("batches:batch-reopen", args=[filled.fresh.code])

    assert maker.post(url, opened_again(maker.get(url))).status_code == 302

    filled.fresh.refresh_from_db()
    assert (filled.fresh.state, filled.fresh.finished_at) == ("started", None)
    assert filled.books.of(filled.curing) == (0, 0)
    assert "Counted again" in text_of(maker.get(filled.fresh.get_absolute_url()))


def test_a_batch_some_of_which_was_sent_is_not_opened_again(filled, maker):
    url = reverse("batches:batch-reopen", args=[filled.finished.code])
    with nothing_moves():
        page = maker.post(url, opened_again(maker.get(url)))

    assert page.status_code == 422
    assert "2 was used since" in text_of(page)


def in_two_parts(filled):
    """Ten candles of which four came first and six then; `filled` has other runs beside them."""
    batch = filled.books.plan(filled.candle, 10)
    filled.books.fill(filled.shelf, batch)
    filled.books.finish(batch, 4, last=False, release=False)
    filled.books.finish(batch, 6, release=False)
    return batch


def standing(batch):
    return list(batch.outcomes.standing().values_list("quantity", flat=True).order_by("pk"))


def test_the_last_part_is_taken_back_once_from_two_open_pages(filled, maker):
    batch = in_two_parts(filled)
    url = reverse("batches:batch-reopen", args=[batch.code])
    colleague = enter(filled.people.costly)
    mine, theirs = opened_again(maker.get(url)), opened_again(colleague.get(url))
    assert "What came out last: <strong>6 good</strong>" in text_of(maker.get(url))
    assert maker.post(url, mine).status_code == 302

    with nothing_moves():
        page = colleague.post(url, theirs)

    assert page.status_code == 422
    assert (
        f"Meanwhile {filled.people.maker} took back 6 good, which this page showed. What came out last is 4 good: "
        "nothing of yours was done. If that is to be taken back too, press again."
    ) in text_of(page)
    assert standing(batch) == [4]
    assert colleague.post(url, opened_again(page)).status_code == 302
    assert standing(batch) == []


def test_a_part_that_was_entered_meanwhile_is_not_taken_back_unseen(filled, maker):
    batch = in_two_parts(filled)
    url = reverse("batches:batch-reopen", args=[batch.code])
    mine = opened_again(maker.get(url))
    filled.books.undo(batch)
    filled.books.finish(batch, 5, release=False)

    with nothing_moves():
        page = maker.post(url, mine)
        unsaid = maker.post(url, {"reason": "Counted again", "submission_key": key()})

    assert "took back 6 good, which this page showed. What came out last is 5 good" in text_of(page)
    assert unsaid.status_code == 422
    assert standing(batch) == [4, 5]


def test_a_batch_with_material_in_it_is_not_called_off(filled, maker):
    url = reverse("batches:batch-call-off", args=[filled.started.code])
    with nothing_moves():
        page = maker.post(url, {"reason": "No time", "submission_key": key()})

    assert page.status_code == 422
    assert "Finish it instead, as scrap" in text_of(page)


def test_minutes_noted_wrongly_are_taken_back_from_the_page(filled, maker):
    entry = filled.worked
    url = reverse("batches:batch-labour-take-back", args=[filled.finished.code, entry.pk])
    assert url in maker.get(filled.finished.get_absolute_url()).content.decode()
    assert "60 minutes of Tobin, pouring, on 10 Mar 2026, will count no longer" in text_of(maker.get(url))
    assert maker.post(url, {"reason": "", "submission_key": key()}).status_code == 422
    assert filled.finished.labour.standing().count() == 1

    press = {"reason": "The clock ran through lunch", "submission_key": key()}
    for _ in range(2):
        assert maker.post(url, press).headers["Location"] == filled.finished.get_absolute_url()

    page = maker.get(filled.finished.get_absolute_url())
    assert "Taken back: The clock ran through lunch" in text_of(page)
    assert url not in page.content.decode()
    assert page.context["minutes"] == 0
    assert "No labour was noted, so none is counted." in text_of(
        enter(filled.people.owner).get(filled.finished.get_absolute_url())
    )
    again = maker.post(url, {"reason": "Once more", "submission_key": key()})
    assert "These minutes were taken back already." in text_of(again)


def test_a_reading_noted_wrongly_is_struck_out_from_the_page(filled, maker):
    url = reverse("batches:batch-strike-reading", args=[filled.finished.code, filled.temperature.pk])
    assert url in maker.get(filled.finished.get_absolute_url()).content.decode()
    asked = text_of(maker.get(url)).replace("\N{NO-BREAK SPACE}", " ")
    assert "Poured at: 58 °C, by Maren, 10 Mar 2026, 10:00, will count no longer" in asked
    assert maker.post(url, {"reason": "", "submission_key": key()}).status_code == 422
    assert filled.finished.readings.standing().count() == 1

    press = {"reason": "The thermometer hung in the steam", "submission_key": key()}
    for _ in range(2):
        assert maker.post(url, press).headers["Location"] == filled.finished.get_absolute_url()

    page = maker.get(filled.finished.get_absolute_url())
    assert "Struck out: The thermometer hung in the steam" in text_of(page)
    assert url not in page.content.decode()
    again = maker.post(url, {"reason": "Once more", "submission_key": key()})
    assert "struck out or taken back already" in text_of(again)
    other = reverse("batches:batch-strike-reading", args=[filled.started.code, filled.temperature.pk])
    assert maker.get(other).status_code == 404


def test_minutes_of_another_batch_are_not_found_under_this_one(filled, maker):
    url = reverse("batches:batch-labour-take-back", args=[filled.started.code, filled.worked.pk])

    assert maker.get(url).status_code == 404


def test_a_find_is_looked_at_from_the_page_once(filled, maker):
    url = reverse("inventory:posting-review", args=[filled.found.pk])

    for _ in range(2):
        assert maker.post(url).headers["Location"] == filled.found.get_absolute_url()

    filled.found.refresh_from_db()
    assert filled.found.review.by == filled.people.maker
    assert "Looked at by Tobin" in text_of(maker.get(filled.found.get_absolute_url()))


def test_a_used_version_is_not_changed_and_an_unused_one_is(filled, maker):
    used = reverse("batches:version-change", args=[filled.candle.formula_id, 1])
    unused = reverse("batches:version-change", args=[filled.candle.formula_id, 2])
    data = formula(
        [ingredient(filled, "wax", "wax_share", "100"), ingredient(filled, "fragrance", "of_melt", "6.5")]
    )

    assert maker.post(used, data).headers["Location"] == filled.candle.get_absolute_url()
    assert maker.post(unused, data | {"submission_key": key()}).status_code == 302

    assert [line.amount for line in filled.candle.lines.all()] == [1_000_000, 80_000, 1, 1]
    assert sorted(filled.draft.lines.values_list("amount", flat=True)) == [65_000, 1_000_000]


def test_more_than_the_target_is_said_and_not_called_drawn(filled, maker):
    batch = filled.books.plan(filled.candle, 10)
    filled.books.draw_into(batch, (filled.shelf["fragrance"], "95 g"))

    # 95 g of 80 g, on a scale of 1 g.
    assert "15 g over" in text_of(maker.get(batch.get_absolute_url())).replace(NBSP, " ")
