"""A lot that waits is looked at and released through its page; until then it is not sent, and the pages say why."""

from dataclasses import replace

import pytest
from django.db import IntegrityError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from batches.formulas import approving
from batches.models import BatchNote, FillCheck, FillWeight, FormulaVersion, Release
from batches.production import releasing
from batches.production.releasing import CannotRelease, NeedsOwner
from inventory.lots import holding
from inventory.models import Item, Lot
from studio.core.numerals import NBSP
from tests.house import TODAY, day
from tests.house import refused as verb_refused
from tests.web.conftest import enter
from tests.web.forms import key, nothing_moves, refused, send_url, sent
from tests.web.inspection import text_of


@pytest.fixture
def maker(filled):
    return enter(filled.people.maker)


@pytest.fixture
def owner(filled):
    return enter(filled.people.owner)


@pytest.fixture
def waiting(filled):
    """Four candles of an approved design, poured on 9 March and cured on the 16th, that nobody has looked at: three good,
    one second."""
    books = filled.books
    books.approve(filled.candle, "Sold since the spring")
    batch = books.plan(filled.candle, 4)
    books.fill(filled.shelf, batch, 4, at=day(9))
    return books.finish(batch, 3, 1, at=day(9, 12), release=False)[0]


def url(lot):
    return reverse("batches:lot-release", args=[lot.code])


def looked_at(**fields):
    """Everything the page "release" sends where no fill check was made."""
    ticks = dict.fromkeys(("label_right", "warning_on", "unweighed"), "on")
    return {**ticks, "note": "", "submission_key": key(), **fields}


def press(browser, lot, **fields):
    """The page as it is now, looked at and sent."""
    page = browser.get(url(lot))
    shown = page.context["form"]["shown"].value() if page.status_code == 200 else ""
    return browser.post(url(lot), looked_at(shown=shown, **fields))


def said(page):
    return text_of(page).replace(NBSP, " ")


def failing(books, lot, **more):
    """A fill check of the lot's batch that is 1 g short on average."""
    return books.check_fill(lot.outcome.batch, [99, 98, 100, 99], declared="100 g", **more)


def test_a_lot_is_looked_at_and_goes_on_sale(filled, maker, waiting):
    shown = said(maker.get(url(waiting)))
    for words in (
        "Burn only where you can see it.",
        "Confirmed by Maren",
        "Cured",
        "since Mon 16 Mar 2026",
        "None was made.",
        "does not certify",
    ):
        assert words in shown, words

    answer = press(maker, waiting, note="Four of four")

    assert answer.headers["Location"] == waiting.get_absolute_url()
    release = Release.objects.get(lot=waiting)
    assert (release.by, release.note, release.fill_check) == (filled.people.maker, "Four of four", None)
    page = said(maker.get(waiting.get_absolute_url()))
    assert "Released for sale" in page
    assert "Four of four" in page
    assert "no fill check" in page
    assert "released 20 Mar 2026 by Tobin" in said(maker.get(waiting.outcome.batch.get_absolute_url()))
    assert maker.post(send_url(waiting), sent("1")).status_code == 302


@pytest.mark.parametrize(
    ("missing", "words"),
    [
        ("label_right", "Look at the label"),
        ("warning_on", "each carries its warning label"),
        ("unweighed", "Weigh some first"),
    ],
)
def test_what_was_not_looked_at_is_said_beside_its_tick(filled, maker, waiting, missing, words):
    data = looked_at(note="Nearly")
    del data[missing]
    with nothing_moves():
        page = maker.post(url(waiting), data)

    refused(page, page.context["form"], missing, words, typed=["Nearly"])


def test_a_lot_that_cures_or_is_on_hold_or_gone_waits_on(filled, maker, waiting):
    with nothing_moves():
        page = maker.post(url(filled.curing), looked_at())
    assert page.status_code == 422
    assert "cures until 26 Mar 2026" in said(page)
    assert 'name="label_right"' not in text_of(maker.get(url(filled.curing)))

    holding.hold(waiting.pk, signature=filled.books.sign(reason="Sooty rim"))
    with nothing_moves():
        assert "is on hold. Take it off hold first" in said(press(maker, waiting))
    holding.release(waiting.pk, signature=filled.books.sign(reason="Wiped"))
    filled.books.take_out(waiting, 3)
    with nothing_moves():
        assert "is on the shelf" in said(press(maker, waiting))


def test_a_failed_fill_check_stops_a_maker_and_asks_the_owner_why(filled, maker, owner, waiting):
    check = failing(filled.books, waiting)
    shown = said(maker.get(url(waiting)))
    assert "Failed" in shown
    assert "have the owner release the lot" in shown
    assert 'name="label_right"' not in shown
    with nothing_moves():
        page = press(maker, waiting, despite="Let me")
        assert page.status_code == 422
        assert "have the owner release the lot" in said(page)
        page = press(owner, waiting)
        refused(page, page.context["form"], "despite", "say why")
        assert 'name="unweighed"' not in text_of(page)

    assert press(owner, waiting, despite="Sold as 95 g", note="Relabelled").status_code == 302

    release = Release.objects.get(lot=waiting)
    assert release.note == "Although the fill check failed: Sold as 95 g. Relabelled"
    assert (release.by, release.fill_check) == (filled.people.owner, check)
    assert "Sold as 95 g" in said(maker.get(waiting.get_absolute_url()))


def test_what_came_up_after_the_page_was_opened_is_told_and_asked_again(filled, owner, waiting):
    """The owner reads that the design is not approved and writes why; meanwhile a fill check fails."""
    approving.change_state(filled.candle.pk, "trial", signature=filled.books.sign(reason="Other wax"))
    shown = owner.get(url(waiting)).context["form"]["shown"].value()
    failing(filled.books, waiting)
    typed = looked_at(despite="Burned two of them", note="On Monday", shown=shown)

    with nothing_moves():
        page = owner.post(url(waiting), typed)
    assert page.status_code == 422
    assert "This is new since the page was opened: the fill check failed." in said(page)
    form = page.context["form"]
    assert [form[name].value() for name in ("despite", "note")] == ["Burned two of them", "On Monday"]
    again = {**typed, "shown": form["shown"].value(), "submission_key": key()}
    assert owner.post(url(waiting), again).status_code == 302
    assert Release.objects.get(lot=waiting).note.startswith(
        "Although the fill check failed and the design is not"
    )


def test_what_is_no_longer_so_is_not_asked_about(filled, owner, waiting):
    failing(filled.books, waiting)
    shown = owner.get(url(waiting)).context["form"]["shown"].value()
    filled.books.check_fill(waiting.outcome.batch, [100, 101, 100, 100], declared="100 g")

    assert owner.post(url(waiting), looked_at(shown=shown)).status_code == 302


def test_a_reason_and_a_note_too_long_for_the_record_are_kept_and_told(filled, owner, waiting):
    failing(filled.books, waiting)
    approving.change_state(filled.candle.pk, "trial", signature=filled.books.sign(reason="Other wax"))
    at = {"by": filled.people.maker, "at": day(9, 11), "recorded_at": day(9, 11)}
    BatchNote.objects.create(batch=waiting.outcome.batch, kind="poured", text="Above.", **at)

    with nothing_moves():
        page = press(owner, waiting, despite="D" * 80, note="N" * 120)

    assert page.status_code == 422
    assert "2 characters too long together. Shorten one of them." in said(page)


def test_a_makers_word_does_not_do_round_the_page(filled, waiting):
    failing(filled.books, waiting)
    signature = replace(filled.books.sign(), by=filled.people.maker)
    ticks = {"label_right": True, "warning_on": True, "on": TODAY}

    with verb_refused(NeedsOwner, "have the owner release the lot"):
        releasing.release(waiting.pk, **ticks, despite="Let me", signature=signature)


def test_what_was_not_weighed_is_ticked_round_the_page_too(filled, waiting):
    ticks = {"label_right": True, "warning_on": True, "on": TODAY}

    with verb_refused(CannotRelease, "tick that the lot goes on sale without"):
        releasing.release(waiting.pk, **ticks, signature=filled.books.sign())


def test_candles_of_a_design_that_was_never_approved_are_the_owners_to_release(filled, maker, owner, waiting):
    # "Burn tests before a design is sold": a trial is not for sale on a maker's word.
    sign = filled.books.sign
    approving.change_state(filled.candle.pk, "trial", signature=sign(reason="The wax was changed"))
    shown = said(maker.get(url(waiting)))
    assert "Burn-test this wax, wick, vessel and fragrance together before any is sold" in shown
    assert "The design is not approved. Put that right first, or have the owner release the lot" in shown
    with nothing_moves():
        page = press(maker, waiting, despite="Let me")
        assert "have the owner release the lot" in said(page)
        page = press(owner, waiting)
        refused(page, page.context["form"], "despite", "say why")

    assert press(owner, waiting, despite="Gifts, with that said").status_code == 302

    assert (
        Release.objects.get(lot=waiting).note == "Although the design is not approved: Gifts, with that said"
    )


def test_candles_with_too_much_fragrance_are_the_owners_to_release(filled, maker, owner, waiting):
    # 8 % of melt is 8.70 % of wax: above 8 % of wax, had anybody known it before.
    Item.objects.filter(name="fragrance").update(maximum_load_ppm=80_000, maximum_load_basis="of_wax")
    shown = said(maker.get(url(waiting)))
    assert "is above the 8 % of wax stated for fragrance" in shown
    assert "The load is above a maximum. Put that right first" in shown
    with nothing_moves():
        assert press(maker, waiting, despite="Let me").status_code == 422

    assert press(owner, waiting, despite="Burned and tested").status_code == 302
    assert Release.objects.get(lot=waiting).note.startswith("Although the load is above a maximum: Burned")
    page = said(maker.get(waiting.outcome.batch.get_absolute_url()))
    assert "Fragrance load as weighed" in page
    assert "do not sell it before it is tested" in page


@pytest.mark.parametrize(
    ("states", "free"),
    [((), True), (("retired",), True), (("trial", "retired"), False), (("trial", "approved"), True)],
)
def test_what_was_poured_while_a_design_was_approved_may_still_be_sold(filled, waiting, states, free):
    for state in states:
        signature = filled.books.sign(reason="As it is now")
        if state == "approved":
            approving.approve(filled.candle.pk, signature=signature)
        else:
            approving.change_state(filled.candle.pk, state, signature=signature)

    assert releasing.was_approved(FormulaVersion.objects.get(pk=filled.candle.pk)) is free


def test_two_things_against_a_lot_are_both_said_and_fit_the_record(filled, owner, waiting):
    failing(filled.books, waiting)
    approving.change_state(filled.candle.pk, "trial", signature=filled.books.sign(reason="Other wax"))

    assert press(owner, waiting, despite="D" * 80, note="N" * 120).status_code == 302

    note = Release.objects.get(lot=waiting).note
    assert note.startswith("Although the fill check failed and the design is not approved: DDD")
    assert len(note) <= 300


def test_the_owners_word_for_a_design_shows_where_its_candles_are_released(filled, maker, waiting):
    assert "Sold since the spring" in said(maker.get(url(waiting)))


def test_only_the_latest_fill_check_counts(filled, maker, waiting):
    failing(filled.books, waiting, signature=filled.books.sign(at=day(18)))
    latest = filled.books.check_fill(waiting.outcome.batch, [101] * 4, declared="100 g")

    assert press(maker, waiting).status_code == 302
    assert Release.objects.get(lot=waiting).fill_check == latest


def test_too_few_weighed_do_not_stop_a_release_and_are_named(filled, maker, waiting):
    filled.books.check_fill(waiting.outcome.batch, [101, 102], declared="100 g", lot_size=4)

    assert "Not enough weighed" in said(maker.get(url(waiting)))
    with nothing_moves():
        page = press(maker, waiting, unweighed="")
        refused(page, page.context["form"], "unweighed", "goes on sale without")
    assert press(maker, waiting).status_code == 302


def test_today_says_what_is_to_be_released_in_place_of_cured(filled, maker, waiting):
    def words():
        return [
            (task.word, task.url, task.press)
            for task in maker.get("/").context["tasks"]
            if task.what.startswith("3 × Cedar")
        ]

    assert words() == [("To be released", url(waiting), "Release")]
    press(maker, waiting)
    assert words() == [("Cured", waiting.get_absolute_url(), "Open")]


def test_what_cures_or_is_held_is_not_yet_to_be_released(filled, maker, waiting):
    holding.hold(waiting.pk, signature=filled.books.sign(reason="Sooty rim"))

    urls = [task.url for task in maker.get("/").context["tasks"]]

    assert url(waiting) not in urls
    assert url(filled.curing) not in urls


def test_the_send_page_says_why_a_waiting_lot_is_not_sent(filled, maker, waiting):
    text = text_of(maker.get(send_url(waiting)))
    assert "cannot be sent yet" in text
    assert url(waiting) in text
    assert 'name="quantity"' not in text
    with nothing_moves():
        page = maker.post(send_url(waiting), sent("1"))
    assert page.status_code == 422
    assert "cannot be sent yet" in text_of(page)


def test_the_lots_that_wait_are_found_by_their_state(filled, maker, waiting):
    text = text_of(maker.get("/stock/lots/?state=waiting"))

    assert waiting.code in text
    assert filled.cured.code not in text


def test_a_release_sent_twice_is_kept_once_and_a_released_lot_is_left_alone(filled, maker, waiting):
    data = looked_at(shown=maker.get(url(waiting)).context["form"]["shown"].value())
    for _ in range(2):
        assert maker.post(url(waiting), data).headers["Location"] == waiting.get_absolute_url()
    assert Release.objects.filter(lot=waiting).count() == 1

    for answer in (maker.get(url(waiting)), press(maker, waiting)):
        assert answer.headers["Location"] == waiting.get_absolute_url()
    assert Release.objects.filter(lot=waiting).count() == 1


def test_a_bookkeeper_sees_what_is_to_be_looked_at_and_releases_nothing(filled, waiting):
    books = enter(filled.people.bookkeeper)

    assert 'name="label_right"' not in text_of(books.get(url(waiting)))
    assert press(books, waiting).status_code == 403
    assert Lot.objects.get(pk=waiting.pk).awaits_release


@pytest.mark.parametrize("model", [FillCheck, FillWeight, Release])
def test_what_was_looked_at_is_never_changed_or_taken_away(filled, waiting, model):
    failing(filled.books, waiting)
    filled.books.check_fill(waiting.outcome.batch, [101] * 4, declared="100 g")
    filled.books.release(waiting)
    table, first = model._meta.db_table, model.objects.latest("pk").pk
    columns = {"batches_fillweight": "net_ug", "batches_fillcheck": "lot_size", "batches_release": "note"}

    for statement in (f"UPDATE {table} SET {columns[table]} = 1 WHERE id = {first}", f"DELETE FROM {table}"):
        with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)


def test_a_net_weight_is_not_replaced_by_another_of_its_number(filled):
    weight = FillWeight.objects.filter(check_of=filled.fill).first()

    with pytest.raises(IntegrityError), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(
            "INSERT INTO batches_fillweight (check_of_id, number, net_ug) VALUES (%s, %s, %s)",
            [weight.check_of_id, weight.number, 1],
        )


def test_a_lot_is_not_released_twice_round_the_verb(filled):
    with pytest.raises(IntegrityError), transaction.atomic():
        Release.objects.bulk_create(
            [
                Release(
                    lot=filled.cured,
                    label_right=True,
                    warning_on=True,
                    by=filled.people.owner,
                    at=timezone.now(),
                )
            ]
        )
