"""Offers: the price at a quantity, what may be entered, which may be ordered by, and what the database refuses."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from inventory.models import Offer, OfferBreak, Supplier
from inventory.purchasing.offers import (
    Break,
    OfferError,
    Problem,
    by_pack,
    dearer_places,
    enter_offer,
    price_at,
    problems_of,
    withdraw,
)
from tests.house import TODAY, grams, money

# Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019, Example 3.5: all-units prices of
# 0.75 from 0, 0.72 from 400 and 0.68 from 800.
TEXTBOOK = [Break(0, 750_000), Break(400, 720_000), Break(800, 680_000)]


@pytest.mark.parametrize(
    ("packs", "price"), [(1, 750_000), (399, 750_000), (400, 720_000), (799, 720_000), (800, 680_000)]
)
def test_every_pack_has_the_price_of_the_break_that_is_reached(packs, price):
    assert price_at(TEXTBOOK, packs) == price
    assert price_at(reversed(TEXTBOOK), packs) == price


def test_below_the_least_there_is_no_price():
    assert price_at([Break(4, 100)], 3) is None
    assert price_at([], 3) is None


@pytest.mark.parametrize(
    ("breaks", "minimum", "problems"),
    [
        ([(1, 5), (4, 4), (10, 3)], 1, []),
        ([(6, 5)], 6, []),
        ([], 1, [(0, "price", "price of a pack")]),
        ([(4, 5)], 1, [(0, "from_packs", "Begin at 1, or make 4")]),
        ([(1, 5)], 4, [(0, "from_packs", "Fewer than 4 cannot be ordered")]),
        ([(1, 5), (10, 4), (4, 3)], 1, [(2, "from_packs", "smallest first")]),
        ([(1, 5), (4, 4), (4, 3)], 1, [(2, "from_packs", "from 4 is there already")]),
        ([(1, 0)], 1, [(0, "price", "above zero")]),
    ],
)
def test_what_is_no_price_list_is_said_at_its_place(breaks, minimum, problems):
    found = problems_of([Break(*pair) for pair in breaks], minimum)

    assert [(each.place, each.field) for each in found] == [(place, field) for place, field, _ in problems]
    for each, (_, _, words) in zip(found, problems, strict=True):
        assert words in each.sentence


def test_a_break_that_costs_more_is_noticed():
    assert dearer_places([Break(1, 5), Break(4, 6), Break(9, 6), Break(20, 7)]) == [1, 3]
    assert dearer_places([Break(1, 5), Break(4, 5)]) == []


@pytest.fixture
def quote(books):
    """`quote(on, price)`: an offer of 2.5 kg packs of fragrance."""

    def enter(on=date(2026, 3, 5), price="132.00", pack="2.5 kg", *, supplier=None, **more):
        return enter_offer(
            supplier=supplier or books.supplier(),
            item=books.item("fragrance"),
            pack_quantity=grams({"2.5 kg": 2_500, "10 kg": 10_000}[pack]),
            typed_pack=pack,
            breaks=[Break(more.get("minimum_packs", 1), money(price))],
            quoted_on=on,
            signature=books.sign(),
            **more,
        )

    return enter


@pytest.mark.django_db
def test_a_refused_offer_leaves_nothing_behind(books):
    with pytest.raises(OfferError, match="Fewer than 4") as caught:
        enter_offer(
            supplier=books.supplier(),
            item=books.item("fragrance"),
            pack_quantity=grams(500),
            typed_pack="500 g",
            breaks=[Break(1, money(5))],
            minimum_packs=4,
            quoted_on=TODAY,
            signature=books.sign(),
        )

    assert isinstance(caught.value.problems[0], Problem)
    assert (Offer.objects.count(), OfferBreak.objects.count()) == (0, 0)


@pytest.mark.django_db
def test_the_latest_of_each_pack_may_be_ordered_by(quote):
    quote(date(2026, 1, 10), "120.00")
    latest = quote(date(2026, 3, 5), "132.00")
    large = quote(date(2026, 2, 1), "460.00", "10 kg")
    other = quote(date(2026, 1, 2), "99.00", supplier=Supplier.objects.create(name="Brine Lane Oils"))

    assert set(Offer.objects.standing(TODAY)) == {latest, large, other}


@pytest.mark.django_db
def test_an_offer_holds_to_its_last_day_and_the_one_before_does_not_come_back(quote):
    quote(date(2026, 1, 10))
    short = quote(date(2026, 3, 5), valid_until=date(2026, 3, 20))

    assert list(Offer.objects.standing(date(2026, 3, 20))) == [short]
    assert list(Offer.objects.standing(date(2026, 3, 21))) == []


@pytest.mark.django_db
def test_a_withdrawn_offer_gives_way_to_the_one_before_and_is_withdrawn_once(quote):
    before, slip = quote(date(2026, 1, 10)), quote(date(2026, 3, 5), "13.20")

    withdraw(slip.pk)

    assert list(Offer.objects.standing(TODAY)) == [before]
    with pytest.raises(OfferError, match="withdrawn before"):
        withdraw(slip.pk)


@pytest.mark.django_db
def test_an_offer_never_changes_in_the_database(quote):
    offer = quote()
    for act in (
        lambda: Offer.objects.filter(pk=offer.pk).update(pack_quantity=1),
        lambda: Offer.objects.filter(pk=offer.pk).update(quoted_on=date(2020, 1, 1)),
        lambda: OfferBreak.objects.filter(offer=offer).update(price=1),
        lambda: OfferBreak.objects.filter(offer=offer)._raw_delete("default"),
        lambda: Offer.objects.filter(pk=offer.pk)._raw_delete("default"),
    ):
        with pytest.raises(IntegrityError, match=r"never|foreign"), transaction.atomic():
            act()


@pytest.mark.django_db
def test_offers_are_found_by_item_and_pack(books, quote):
    small, large = quote(), quote(pack="10 kg", price="460.00")
    fragrance = books.item("fragrance")

    assert by_pack(books.supplier(), {fragrance.pk}, TODAY) == {
        (fragrance.pk, grams(2_500)): small,
        (fragrance.pk, grams(10_000)): large,
    }
    assert by_pack(books.supplier(), {books.item("wax").pk}, TODAY) == {}
