"""What the finish page asks: a colleague's output, more than the melt fills, parts left over, a count after shipping."""

import pytest
from django.urls import reverse

from batches.models import Batch, FormulaVersion, Outcome
from inventory.models import Lot, Posting, Reason
from studio.core.numerals import NBSP
from tests.house import day
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused
from tests.web.inspection import text_of


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def batch(filled):
    """Ten candles of 100 g: 1,000 g of melt drawn, and ten wicks and vessels."""
    batch = filled.books.plan(filled.candle, 10)
    filled.books.fill(filled.shelf, batch, at=day(19))
    return batch


@pytest.fixture
def cured(filled):
    """Ten good ones of the tenth of March in one lot, of which four were sent."""
    batch = filled.books.plan(filled.candle, 10)
    filled.books.fill(filled.shelf, batch, at=day(9))
    (lot,) = filled.books.finish(batch, good=10, at=day(10))
    filled.books.send(lot, 4)
    return batch, lot


def url(name, batch):
    return reverse(f"batches:batch-{name}", args=[batch.code])


def ended(**fields):
    return {"good": "", "seconds": "", "last": "all", "submission_key": key(), **fields}


def said(page):
    return text_of(page).replace(NBSP, " ").replace("&nbsp;", " ").replace("&#x27;", "'")


def came(batch):
    return list(
        Outcome.objects.filter(batch=batch).standing().order_by("pk").values_list("result", "quantity")
    )


def test_two_people_who_finish_one_part_are_asked(filled, maker, batch):
    page = maker.get(url("finish", batch))
    seen = page.context["form"]["seen"].value()
    filled.books.finish(batch, good=6, at=day(19, 12), last=False)

    typed = ended(good="4", last="part", seen=str(seen), retained="1")
    with nothing_moves():
        asked = maker.post(url("finish", batch), typed)
    assert asked.status_code == 422
    assert "Meanwhile" in said(asked)
    assert "recorded 6 good" in said(asked)
    assert asked.context["form"]["good"].value() == "4"

    assert maker.post(url("finish", batch), typed | {"as_well": "on"}).status_code == 302
    assert came(batch) == [("good", 6), ("good", 4)]


def test_output_that_was_seen_is_not_asked_about(filled, maker, batch):
    filled.books.finish(batch, good=6, at=day(19, 12), last=False)
    seen = maker.get(url("finish", batch)).context["form"]["seen"].value()
    assert maker.post(url("finish", batch), ended(good="4", seen=str(seen))).status_code == 302


def test_a_batch_a_colleague_finished_meanwhile_keeps_what_was_typed(filled, maker, batch):
    filled.books.finish(batch, good=10, at=day(19, 12))
    with nothing_moves():
        page = maker.post(url("finish", batch), ended(good="7"))
    assert page.status_code == 422
    assert "Meanwhile the batch was ended" in said(page)
    assert "10 good" in said(page)
    assert page.context["form"]["good"].value() == "7"


@pytest.mark.parametrize(("good", "asked"), [("10", False), ("11", True)])
def test_more_than_the_melt_fills_is_asked_with_both_figures(filled, maker, batch, good, asked):
    # 1,000 g of melt and 5 % fill ten of 100 g, not eleven.
    data = ended(good=good, last="part")
    page = maker.post(url("finish", batch), data)
    assert page.status_code == (422 if asked else 302)
    if asked:
        assert "11 hold 1,100 g of melt, and 1,000 g were weighed in" in said(page)
        assert maker.post(url("finish", batch), data | {"sure": "on"}).status_code == 302


def test_parts_left_over_go_back_to_their_lot_or_are_scrapped(filled, maker, batch):
    vessel = filled.shelf["vessel"]
    filled.books.draw_into(batch, (vessel, 3), at=day(19))
    before = Lot.objects.get(pk=vessel.pk)
    cost = before.value // before.on_hand
    line = batch.version.lines.get(item__name="vessel").pk
    with nothing_moves():
        asked = maker.post(url("finish", batch), ended(good="10"))
    assert "13 vessel were set out and 10 units use 10, so 3 are left over" in said(asked)
    with nothing_moves():
        field = f"left_scrap_{line}_{vessel.pk}"
        asked = maker.post(url("finish", batch), ended(good="10", **{field: "3"}))
        assert "Say why they are scrapped" in said(asked)

    told = {f"left_back_{line}_{vessel.pk}": "2", f"left_scrap_{line}_{vessel.pk}": "1"}
    done = maker.post(url("finish", batch), ended(good="10", left_reason="Chipped rim", **told))

    assert done.status_code == 302
    after = Lot.objects.get(pk=vessel.pk)
    assert (after.on_hand, after.value) == (before.on_hand + 2, before.value + 2 * cost)
    scrap = Posting.objects.filter(kind="scrap").latest("pk")
    assert (scrap.reason, scrap.movements.get().quantity) == (
        f"Left over of batch {batch.spaced_code}: Chipped rim",
        -1,
    )
    drawn = batch.draws.standing().filter(line=line)
    assert sum(draw.quantity for draw in drawn) == 10
    assert came(batch) == [("good", 10)]
    assert "nobody said what became" not in said(maker.get(batch.get_absolute_url()))


def test_parts_of_which_nobody_knows_stay_said_so(filled, maker, batch):
    filled.books.draw_into(batch, (filled.shelf["vessel"], 1), at=day(19))

    assert maker.post(url("finish", batch), ended(good="10", left_unknown="on")).status_code == 302

    assert "vessel: 1 more counted out than the output uses" in said(maker.get(batch.get_absolute_url()))


def test_a_count_corrected_after_some_were_shipped_leads_to_adjusting_the_lot(cured, maker):
    batch, lot = cured
    worth = Lot.objects.get(pk=lot.pk).value
    page = maker.get(url("reopen", batch))
    assert "adjust the lot instead" in said(page)

    led = maker.get(url("reopen", batch), {f"came-{lot.code}": "9"}, follow=True)

    form = led.context["form"]
    assert form["on_hand"].value() == "5"
    assert form["note"].value().replace(NBSP, " ") == f"9 good came of batch {batch.spaced_code}, not 10"
    assert maker.post(led.request["PATH_INFO"], adjusting(form)).status_code == 302
    lot.refresh_from_db()
    assert (lot.on_hand, lot.value) == (5, worth)
    assert "was adjusted by" in said(maker.get(batch.get_absolute_url()))
    assert Batch.objects.get(pk=batch.pk).state == "finished"


def adjusting(form):
    """What the form that adjusts a lot sends as it came, and the reason, which nobody chose before."""
    shown = {field.html_name: "" if field.value() is None else str(field.value()) for field in form}
    assert shown["reason"] == ""
    reason = Reason.objects.filter(kind="correction", retired=False).first()
    return shown | {"reason": str(reason.pk), "submission_key": key()}


def test_a_count_that_was_corrected_already_is_not_corrected_twice(cured, maker):
    """Nine came, not ten, and four were sent: five are left, whoever asks again. Eight came: four are."""
    batch, lot = cured
    asked = {f"came-{lot.code}": "9"}
    led = maker.get(url("reopen", batch), asked, follow=True)
    assert maker.post(led.request["PATH_INFO"], adjusting(led.context["form"])).status_code == 302

    page = maker.get(url("reopen", batch), asked)

    assert page.status_code == 200
    assert "10 was recorded, and the lot was adjusted to 9 since. Nothing needs adjusting." in said(page)
    # The link that was worked out before the first press, pressed once more.
    stale = maker.get(led.request["PATH_INFO"], {**led.context["form"].initial, "on_hand": "4"})
    again = maker.post(led.request["PATH_INFO"], adjusting(stale.context["form"]))
    refused(again, again.context["form"], "on_hand", "books hold 5 now", "press again")
    eight = maker.get(url("reopen", batch), {f"came-{lot.code}": "8"}, follow=True).context["form"]
    assert (eight["on_hand"].value(), eight["note"].value().replace(NBSP, " ")[-7:]) == ("4", ", not 9")
    lot.refresh_from_db()
    assert lot.on_hand == 5


def test_a_count_that_a_stock_take_found_already_is_not_corrected_twice(filled, cured, maker):
    batch, lot = cured
    count = filled.books.start_count("item", lot.item.name, items=[lot.item.name])
    others = [(line.lot, line.lot.on_hand) for line in count.lines.exclude(lot=lot)]
    filled.books.look(count, *others, (lot, 5))
    filled.books.look(count, (lot, 5))
    filled.books.post_count(count)

    assert "Nothing needs adjusting" in said(maker.get(url("reopen", batch), {f"came-{lot.code}": "9"}))


@pytest.mark.parametrize(
    ("typed", "words"), [("10", "Nothing needs adjusting"), ("4", "4 left already"), ("x", "")]
)
def test_a_count_that_cannot_be_is_told_beside_it(cured, maker, typed, words):
    batch, lot = cured
    page = maker.get(url("reopen", batch), {f"came-{lot.code}": typed})
    assert page.status_code == 200
    assert words in said(page)
    assert f'value="{typed}"' in said(page)


def test_a_batch_opened_again_is_asked_for_what_came_out_then(filled, maker, batch):
    filled.books.finish(batch, good=10, at=day(19, 12))
    filled.books.undo(batch)
    form = maker.get(url("finish", batch)).context["form"]
    assert form["happened_at"].value().astimezone(day(1).tzinfo) == day(19, 12)


def test_a_wrong_version_is_corrected_on_its_page_and_shown(filled, maker, batch):
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 80_000), ("vessel", "per_unit", 1)]
    right = filled.books.formula(batch.item.name, lines, fill="100 g", name="Wickless")
    FormulaVersion.objects.filter(pk=right.pk).update(written_at=day(1))
    page = url("version", batch)
    assert page in text_of(maker.get(batch.get_absolute_url()))
    with nothing_moves():
        assert maker.post(page, {"version": str(right.pk), "submission_key": key()}).status_code == 422
    data = {"version": str(right.pk), "reason": "Old ticket", "submission_key": key()}

    assert maker.post(page, data).status_code == 302

    shown = said(maker.get(batch.get_absolute_url()))
    assert f"Recorded as made from {batch.version}, corrected to {right}" in shown
    assert "Old ticket" in shown
    assert "Not in" in shown
    assert maker.get(reverse("batches:batch-record", args=[batch.code])).status_code == 200


def test_a_number_that_is_none_of_ours_is_a_refusal_and_no_fault(filled, maker, batch):
    page = maker.post(url("finish", batch), ended(good="10", seen=str(2**63)))

    assert page.status_code == 422
