"""What really went in is recorded, from a lot that was stopped meanwhile too: with a reason, for review, and on hold."""

from dataclasses import replace
from datetime import date
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction
from django.db.utils import DatabaseError

from batches.models import Batch
from batches.production.off_formula import off_formula
from batches.production.off_formula_of import made_of
from inventory import checks
from inventory.ledger import books as stock
from inventory.lots import holding
from inventory.models import HoldRecord, Lot, Movement, Posting, StoppedUse
from studio.models import Role, User
from tests.house import TODAY, day, grams, money, refused

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]

WHY = "Weighed while the network was down"


def hold(books, lot):
    return holding.hold(lot.pk, signature=books.sign(day(12), reason="Specks"))


def held():
    """The keys of all lots on hold."""
    return set(Lot.objects.filter(held=True).values_list("pk", flat=True))


@pytest.fixture
def bystander(books, shelf, version):
    """Another batch of the same formula, finished of other wax."""
    other = books.receive("wax", "5 kg", cost=25)
    batch = books.plan(version, 10)
    books.fill({**shelf, "wax": other}, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    return made


@pytest.fixture
def unchanged(bystander):
    """The other batch's candles stay as they were: ten, worth 28.80, free."""
    yield
    bystander.refresh_from_db()
    assert (bystander.on_hand, bystander.value, bystander.held) == (10, money("28.80"), False)


def test_a_weight_made_offline_from_a_lot_held_meanwhile_is_kept_with_its_reason(
    books, shelf, version, unchanged
):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    key = uuid4()
    entry = {"key": key, "lot": shelf["wax"], "quantity": "920 g", "at": day(11)}
    with refused(stock.LotStopped, "is on hold") as caught:
        books.bench(batch, "draw", **entry)
    assert caught.value.stop == "held"
    assert not Posting.objects.filter(kind="draw", movements__lot=shelf["wax"]).exists()

    kept = books.bench(batch, "draw", **entry, despite=WHY)

    assert (kept.key, kept.posting.kind) == (key, "draw")
    assert books.of(shelf["wax"]) == (grams(9_080), money("45.40"))
    (use,) = StoppedUse.objects.all()
    assert (use.posting, use.lot, use.stop, use.reason) == (kept.posting, shelf["wax"], "held", WHY)
    assert list(Posting.objects.to_review()) == [kept.posting]
    # It stands on the one list of what was off, whatever becomes of the hold.
    said = [each.words for each in off_formula(made_of(Batch.objects.with_product().get(pk=batch.pk)))]
    assert [words for words in said if "on hold" in words] == [
        f"wax, lot {shelf['wax'].spaced_code}, was on hold when it was recorded: {WHY}"
    ]
    # It is sent again: kept once.
    assert books.bench(batch, "draw", **entry, despite=WHY) == kept
    assert held() == {shelf["wax"].pk}


def test_what_comes_of_it_later_is_on_hold(books, shelf, version, unchanged):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", despite=WHY)
    for name, amount in (("fragrance", "80 g"), ("wick", 10), ("vessel", 10)):
        books.draw_into(batch, (shelf[name], amount))

    good, seconds = books.finish(batch, 8, 2, release=False)

    assert held() == {shelf["wax"].pk, good.pk, seconds.pk}
    record = HoldRecord.objects.get(lot=good)
    assert WHY in record.reason
    assert shelf["wax"].spaced_code in record.reason


def test_samples_kept_of_it_are_taken_before_the_rest_is_on_hold(books, shelf, version):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", despite=WHY)
    for name, amount in (("fragrance", "80 g"), ("wick", 10), ("vessel", 10)):
        books.draw_into(batch, (shelf[name], amount))

    (good,) = books.finish(batch, 10, retained=1, release=False)

    good.refresh_from_db()
    assert (good.on_hand, good.held) == (9, True)


def test_a_part_that_came_out_before_is_put_on_hold_at_once(books, shelf, version, unchanged):
    batch = books.plan(version, 10)
    books.draw_into(batch, (shelf["wax"], "460 g"), at=day(10))
    (part,) = books.finish(batch, 4, last=False, at=day(11))
    hold(books, shelf["fragrance"])

    books.bench(batch, "draw", lot=shelf["fragrance"], quantity="80 g", despite=WHY)

    assert held() == {shelf["fragrance"].pk, part.pk}


def test_a_correction_a_week_later_names_the_lot_that_is_held(books, shelf, version, unchanged):
    """920 g of the 5.00 wax came of another lot, at 4.00: the candles are worth 0.92 less, and on hold."""
    cheap = books.receive("wax", "5 kg", cost=20)
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    hold(books, cheap)
    with refused(stock.LotStopped, "is on hold"):
        books.correct(draws["wax"], (cheap, "920 g"))
    assert books.of(made) == (10, money("28.80"))

    corrected = books.correct(draws["wax"], (cheap, "920 g"), despite="The label on the pail was misread")

    assert (corrected.happened_at, corrected.reason) == (day(10), "mis-keyed")
    assert books.of(made) == (10, money("27.88"))
    assert books.of(shelf["wax"]) == (grams(10_000), money(50))
    assert held() == {cheap.pk, made.pk}
    assert list(Posting.objects.to_review()) == [corrected]


def test_what_was_made_of_its_blend_is_on_hold_too_and_what_comes_of_that_later(books, shelf, unchanged):
    """Wax into a blend, the blend into tealights that are finished, and into others that are under way."""
    blend = books.formula("blend", [("wax", "wax_share", 1_000_000)])
    tealight = books.formula("tealight", [("blend", "wax_share", 1_000_000)], fill="50 g")
    suspect = books.receive("wax", "5 kg", cost=25)
    first = books.plan(blend, grams(2_000))
    wrong = books.draw_into(first, (shelf["wax"], "2 kg"), at=day(10))
    (melt,) = books.finish(first, grams(2_000), at=day(10))
    done = books.plan(tealight, 10)
    books.draw_into(done, (melt, "500 g"), at=day(11))
    (lights,) = books.finish(done, 10, at=day(11))
    under_way = books.plan(tealight, 10)
    books.draw_into(under_way, (melt, "500 g"), at=day(11))
    hold(books, suspect)

    books.correct(wrong, (suspect, "2 kg"), despite="Read off the pail afterwards")
    assert held() == {suspect.pk, melt.pk, lights.pk}

    (more,) = books.finish(under_way, 10, release=False)
    assert held() == {suspect.pk, melt.pk, lights.pk, more.pk}


def test_what_has_left_the_shelf_is_not_marked(books, shelf, version):
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(10))
    (made,) = books.finish(batch, 10, at=day(11))
    books.send(made, 10, at=day(12))
    other = books.receive("wax", "5 kg", cost=25)
    hold(books, other)

    books.correct(draws["wax"], (other, "920 g"), despite=WHY)

    assert held() == {other.pk}


def test_a_weight_put_right_again_keeps_why_the_lot_went_in(books, shelf, version):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    entry = books.bench(batch, "draw", lot=shelf["wax"], quantity="902 g", despite=WHY)

    corrected = books.correct(entry.posting, (shelf["wax"], "920 g"))

    (use,) = corrected.stopped_uses.all()
    assert (use.stop, use.reason) == ("held", WHY)
    # The first is reversed: one is left to be looked at.
    assert list(Posting.objects.to_review()) == [corrected]


def test_a_weight_that_is_taken_back_holds_nothing_later(books, shelf, version):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    entry = books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", despite=WHY)
    books.bench(batch, "undo", takes_back=entry.key)
    books.fill({**shelf, "wax": books.receive("wax", "1 kg", cost=5)}, batch)

    (made,) = books.finish(batch, 10)

    assert held() == {shelf["wax"].pk}
    assert not made.hold_records.exists()
    assert not Posting.objects.to_review().exists()


@pytest.mark.parametrize(
    ("lot", "stop"),
    [({"expires_on": date(2026, 3, 19)}, "expired"), ({}, "held")],
)
def test_what_stood_against_it_is_kept(books, shelf, version, lot, stop):
    batch = books.plan(version, 10)
    wax = books.receive("wax", "1 kg", cost=5, **lot)
    if stop == "held":
        hold(books, wax)

    books.bench(batch, "draw", lot=wax, quantity="1 kg", despite=WHY)

    assert [use.stop for use in StoppedUse.objects.all()] == [stop]


def test_a_lot_held_and_used_up_meanwhile_is_taken_with_what_was_found(books, shelf, version):
    batch = books.plan(version, 10)
    jar = books.receive("fragrance", "50 g", cost=2)
    hold(books, jar)
    entry = {"key": uuid4(), "lot": jar, "quantity": "80 g", "despite": WHY}
    with refused(stock.LotShort, "holds 50.g by the books; 80.g was asked"):
        books.bench(batch, "draw", **entry)

    kept = books.bench(batch, "draw", **entry, book_found=True)

    kinds = dict(kept.posting.movements.values_list("kind", "quantity"))
    assert kinds == {Movement.Kind.FOUND: grams(30), Movement.Kind.DRAWN: -grams(80)}
    assert list(Posting.objects.to_review()) == [kept.posting]


def test_a_reason_opens_no_other_door(books, shelf, version):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    with refused(stock.LotNotUsable, "is wax, not fragrance"):
        books.bench(batch, "draw", lot=shelf["wax"], line="fragrance", quantity="1 g", despite=WHY)
    # Nor does it mark a lot that nothing stands against.
    books.bench(batch, "draw", lot=shelf["fragrance"], quantity="80 g", despite=WHY)
    assert not StoppedUse.objects.exists()
    assert held() == {shelf["wax"].pk}


def test_what_the_owner_allowed_needs_no_reason(books, shelf, version):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    holding.allow_use(shelf["wax"].pk, TODAY, on=TODAY, signature=books.sign(reason="Burned clean"))

    entry = books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", despite=WHY)

    assert (entry.posting.override_uses.count(), entry.posting.stopped_uses.count()) == (1, 0)


def test_the_record_of_it_is_never_changed(books, shelf, version):
    batch = books.plan(version, 10)
    hold(books, shelf["wax"])
    entry = books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", despite=WHY)
    use = StoppedUse.objects.get()

    for act in (
        lambda: StoppedUse.objects.update(reason="Another"),
        lambda: StoppedUse.objects.filter(pk=use.pk)._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            act()
    with pytest.raises(IntegrityError), transaction.atomic():
        StoppedUse.objects.bulk_create(
            [StoppedUse(posting=entry.posting, lot=shelf["wick"], stop="held", reason="")]
        )


def test_check_books_sees_a_use_of_a_lot_that_was_not_taken(books, shelf, version):
    posting = books.draw_into(books.plan(version, 10), (shelf["wax"], "920 g"))
    with transaction.atomic():
        StoppedUse.objects.create(posting=posting, lot=shelf["wick"], stop="held", reason="Odd")
        assert any("took none of it" in said for said in checks.overrides_agree())
        transaction.set_rollback(True)


def test_the_longest_reason_is_whole_in_the_record_of_the_hold(books, shelf, version):
    batch = books.plan(version, 10)
    books.draw_into(batch, (shelf["wax"], "460 g"), at=day(10))
    (part,) = books.finish(batch, 4, last=False, at=day(11))
    hold(books, shelf["fragrance"])

    books.bench(batch, "draw", lot=shelf["fragrance"], quantity="80 g", despite="x" * 300)

    assert StoppedUse.objects.get().reason == "x" * 300
    assert HoldRecord.objects.get(lot=part).reason.endswith("is in it: " + "x" * 300)


def test_what_came_of_a_lot_that_waits_for_the_owner_waits_for_the_owner_too(
    books, shelf, version, unchanged
):
    """Else whoever may not end the hold of a lot could pour it, and end the hold of the candles instead."""
    holding.hold_for_owner([shelf["wax"].pk], signature=books.sign(reason="Its pot was above a maximum"))
    batch = books.plan(version, 10)
    books.bench(batch, "draw", lot=shelf["wax"], quantity="920 g", despite=WHY)
    for name, amount in (("fragrance", "80 g"), ("wick", 10), ("vessel", 10)):
        books.draw_into(batch, (shelf[name], amount))
    (lot,) = books.finish(batch, 10, release=False)
    maker = User.objects.create(username="tobin", role=Role.MAKER)

    with refused(holding.OwnerDecides, "Only the owner may release this lot"):
        holding.release(lot.pk, signature=replace(books.sign(), by=maker))

    assert held() == {shelf["wax"].pk, lot.pk}
