"""Which lots to take: as few as possible, and the first to expire among them.

The rule is common practice, no source; the figures are worked by hand.
"""

from datetime import date, timedelta
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.lots.suggestion import Pick, Shelf, suggest_lots

ARRIVED = date(2026, 1, 5)


def lot(code, on_hand, expires_on=None, arrived_on=ARRIVED):
    return Shelf(int(code[1:]), code, on_hand, expires_on, arrived_on)


def taken(suggestion):
    return [(pick.code, pick.quantity) for pick in suggestion.picks]


SPRING, SUMMER, AUTUMN = date(2026, 4, 1), date(2026, 7, 1), date(2026, 10, 1)


def test_of_lots_that_each_cover_it_the_first_to_expire_is_taken():
    suggestion = suggest_lots(300, [lot("A1", 900, AUTUMN), lot("A2", 400, SUMMER), lot("A3", 500)])

    assert suggestion.picks == (Pick(2, "A2", 300),)
    assert (suggestion.short, suggestion.reason) == (0, "One lot covers it; a second would widen a recall.")


def test_one_lot_that_covers_it_is_preferred_to_sharing_with_one_that_expires_sooner():
    suggestion = suggest_lots(300, [lot("A1", 200, SPRING), lot("A2", 300, AUTUMN)])

    assert taken(suggestion) == [("A2", 300)]
    assert suggestion.reason == (
        "One lot covers it; an earlier lot does not hold enough, and sharing would widen a recall."
    )


def test_when_no_lot_covers_it_the_fewest_do_and_the_first_to_expire_is_used_up():
    shelves = [lot("A1", 100, SPRING), lot("A2", 500, SUMMER), lot("A3", 600, AUTUMN), lot("A4", 550)]
    suggestion = suggest_lots(1_000, shelves)

    assert taken(suggestion) == [("A2", 500), ("A3", 500)]
    assert suggestion.reason == "2 lots, because no single lot holds enough."


def test_a_small_lot_about_to_expire_goes_along_when_the_number_stays_the_same():
    shelves = [lot("A1", 100, SPRING), lot("A2", 500, SUMMER), lot("A3", 600, AUTUMN), lot("A4", 550)]
    suggestion = suggest_lots(1_200, shelves)

    assert taken(suggestion) == [("A1", 100), ("A2", 500), ("A3", 600)]
    assert suggestion.reason == "3 lots, because no 2 together hold enough."


def test_lots_that_do_not_expire_come_last_then_the_oldest_then_by_code():
    older, newer = date(2026, 1, 1), date(2026, 2, 1)
    shelves = [
        lot("A4", 9, None, newer),
        lot("A3", 9, None, older),
        lot("A2", 9, SUMMER),
        lot("A1", 9, None, older),
    ]

    assert [code for code, _ in taken(suggest_lots(36, shelves))] == ["A2", "A1", "A3", "A4"]


def test_a_shelf_that_falls_short_says_by_how_much():
    suggestion = suggest_lots(1_000, [lot("A1", 300, AUTUMN), lot("A2", 200, SUMMER)])

    assert (taken(suggestion), suggestion.short) == ([("A2", 200), ("A1", 300)], 500)
    assert suggestion.reason == "Both lots together do not hold enough."


@pytest.mark.parametrize(
    ("need", "shelves", "short", "reason"),
    [
        (10, [], 10, "No lot that may be used is on the shelf."),
        (10, [lot("A1", 0)], 10, "No lot that may be used is on the shelf."),
        (10, [lot("A1", 4)], 6, "The only lot does not hold enough."),
        (0, [lot("A1", 4)], 0, "Nothing is needed."),
    ],
)
def test_the_reason_fits_an_odd_shelf(need, shelves, short, reason):
    suggestion = suggest_lots(need, shelves)

    assert (suggestion.short, suggestion.reason) == (short, reason)


def test_a_need_below_zero_is_refused():
    with pytest.raises(ValueError, match="cannot be below zero"):
        suggest_lots(-1, [])


SHELVES = st.lists(
    st.tuples(st.integers(0, 30), st.none() | st.integers(0, 5), st.integers(0, 3)), max_size=6
).map(
    lambda rows: [
        lot(f"A{n}", held, SPRING + timedelta(days) if days is not None else None, ARRIVED + timedelta(came))
        for n, (held, days, came) in enumerate(rows)
    ]
)


@given(st.integers(1, 120), SHELVES)
def test_the_need_is_covered_by_the_fewest_lots_or_the_rest_is_told(need, shelves):
    suggestion = suggest_lots(need, shelves)
    held = {shelf.lot_id: shelf.on_hand for shelf in shelves}

    assert sum(pick.quantity for pick in suggestion.picks) + suggestion.short == need
    assert all(0 < pick.quantity <= held[pick.lot_id] for pick in suggestion.picks)
    sufficient = [
        chosen
        for size in range(len(shelves) + 1)
        for chosen in combinations(shelves, size)
        if sum(shelf.on_hand for shelf in chosen) >= need
    ]
    if not sufficient:
        assert suggestion.short == need - sum(held.values())
        return
    assert suggestion.short == 0
    fewest = min(len(chosen) for chosen in sufficient)
    assert len(suggestion.picks) == fewest
    # Of the smallest sets, the one that is first in line, then second in line, and so on.
    in_line = sorted(
        shelves, key=lambda s: (s.expires_on is None, s.expires_on or SPRING, s.arrived_on, s.code)
    )
    places = {shelf.lot_id: place for place, shelf in enumerate(in_line)}
    first = min(sorted(places[s.lot_id] for s in chosen) for chosen in sufficient if len(chosen) == fewest)
    assert [places[pick.lot_id] for pick in suggestion.picks] == first
    # Only the last is left with a rest.
    assert all(pick.quantity == held[pick.lot_id] for pick in suggestion.picks[:-1])


@given(st.integers(1, 120), SHELVES, st.randoms(use_true_random=False))
def test_the_order_in_which_lots_are_listed_does_not_matter(need, shelves, random):
    shuffled = random.sample(shelves, len(shelves))

    assert suggest_lots(need, shuffled) == suggest_lots(need, shelves)
