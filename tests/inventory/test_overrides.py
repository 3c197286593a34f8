"""A lot on hold or past its expiry is used only on the owner's word, and whoever looks later sees that word."""

from datetime import date

import pytest
from django.db import DatabaseError, transaction

from inventory import checks
from inventory.items.stock import items_with_stock
from inventory.ledger.books import LotNotUsable
from inventory.lots import holding, moving
from inventory.lots.shelves import shelves
from inventory.models import Lot, Override, OverrideUse
from tests.house import TODAY, Books, day, grams, refused

LATER = date(2026, 4, 10)


@pytest.fixture
def oil(books: Books) -> Lot:
    """200 g of fragrance on hold."""
    lot = books.receive("fragrance", "200 g", cost="9.00")
    holding.hold(lot.pk, signature=books.sign(reason="smells of solvent"))
    return lot


def allowed(books: Books, lot: Lot, until: date = LATER) -> Lot:
    """The owner has tried it and lets it be used."""
    holding.allow_use(lot.pk, until, on=TODAY, signature=books.sign(reason="burned clean in a test"))
    lot.refresh_from_db()
    return lot


def test_what_the_owner_allows_is_drawn_and_the_posting_says_so(books, oil):
    allowed(books, oil)

    posting = books.draw(oil, "50 g")

    (use,) = posting.override_uses.all()
    assert (use.override.lot, use.override.by, use.override.reason) == (
        oil,
        books.by,
        "burned clean in a test",
    )
    assert Lot.objects.get(pk=oil.pk).on_hand == grams(150)


def test_a_lot_that_may_be_used_anyway_leaves_no_such_mark(books):
    assert not books.draw(books.receive("wax", "1 kg", cost=5), "50 g").override_uses.exists()


def test_an_expired_lot_is_allowed_up_to_and_on_the_day_named(books):
    lot = books.receive("wax", "1 kg", cost=5, expires_on=date(2026, 3, 10))
    with refused(LotNotUsable, "expired on 10 Mar 2026. Choose another lot, correct the date"):
        books.draw(lot, "50 g")
    allowed(books, lot, TODAY)

    books.draw(lot, "50 g")

    tomorrow = books.sign(day(21))
    with refused(LotNotUsable, "expired on 10 Mar 2026"):
        moving.draw([moving.Taking(lot.pk, grams(50))], signature=tomorrow)


def test_goods_on_hold_are_sent_out_only_when_allowed(books):
    books.receive("wax", "1 kg", cost=5)
    lot = books.receive("finished", 10, cost=50)
    holding.hold(lot.pk, signature=books.sign(reason="label smudged"))
    with refused(LotNotUsable, "is on hold"):
        books.send(lot, 2)
    allowed(books, lot)

    posting = books.send(lot, 2)

    assert OverrideUse.objects.get().posting == posting


def test_an_allowed_lot_counts_as_free_and_is_suggested(books, oil):
    item = oil.item
    before = items_with_stock(TODAY).get(pk=item.pk).usable
    allowed(books, oil)

    assert (before, items_with_stock(TODAY).get(pk=item.pk).usable) == (0, grams(200))
    assert [lot.pk for lot in shelves([item.pk], TODAY)[item.pk]] == [oil.pk]
    assert shelves([item.pk], date(2026, 4, 11))[item.pk] == []


def test_a_new_hold_ends_what_was_allowed(books, oil):
    allowed(books, oil)
    holding.release(oil.pk, signature=books.sign(reason="supplier's test is good"))
    holding.hold(oil.pk, signature=books.sign(reason="recall notice"))

    with refused(LotNotUsable, "is on hold"):
        books.draw(oil, "50 g")
    assert [each.until for each in Override.objects.order_by("pk")] == [LATER, None]


def test_what_was_allowed_is_taken_back_once(books, oil):
    allowed(books, oil)
    holding.end_allowing(oil.pk, signature=books.sign(reason="a jar sooted"))

    with refused(LotNotUsable, "is on hold"):
        books.draw(oil, "50 g")
    with refused(holding.AlreadySo, "not allowed any more"):
        holding.end_allowing(oil.pk, signature=books.sign(reason="again"))


def test_nothing_is_allowed_that_needs_no_word_or_lies_behind(books, oil):
    good = books.receive("wax", "1 kg", cost=5, expires_on=date(2026, 12, 1))
    with refused(holding.CannotAllow, "neither on hold nor expired"):
        holding.allow_use(good.pk, LATER, on=TODAY, signature=books.sign(reason="why not"))
    with refused(holding.CannotAllow, "has passed"):
        holding.allow_use(oil.pk, date(2026, 3, 19), on=TODAY, signature=books.sign(reason="late"))
    assert not Override.objects.exists()


def test_the_owners_word_does_not_shorten_the_cure(books):
    lot = books.receive("finished", 10, cost=50)
    Lot.objects.filter(pk=lot.pk).update(ready_on=date(2026, 3, 25))
    holding.hold(lot.pk, signature=books.sign(reason="label smudged"))
    allowed(books, lot)

    with refused(LotNotUsable, "cures until 25 Mar 2026"):
        books.send(lot, 2)


def test_a_draw_that_is_put_right_keeps_the_owners_word(books, oil):
    batch = books.plan(books.candle(), 10)
    allowed(books, oil)
    posting = books.draw_into(batch, (oil, "90 g"))
    holding.end_allowing(oil.pk, signature=books.sign(reason="a jar sooted"))

    corrected = books.correct(posting, (oil, "95 g"))

    assert [use.override.reason for use in corrected.override_uses.all()] == ["burned clean in a test"]


def test_the_owners_word_is_never_changed(books, oil):
    allowed(books, oil)
    for change in (Override.objects.all().delete, lambda: Override.objects.update(reason="other")):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def test_a_word_written_on_the_quiet_is_found(books, oil):
    assert not list(checks.overrides_agree())
    Lot.objects.filter(pk=oil.pk).update(allowed_until=LATER)

    assert list(checks.overrides_agree()) == [
        f"Lot {oil.code} is allowed until 2026-04-10; its last override says otherwise."
    ]
