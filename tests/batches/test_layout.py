"""A drawn graph: nothing overlaps, lines go where they should, and few of them cross."""

import random
from itertools import combinations, pairwise

import pytest

from batches.tracing.layout import MARGIN, Box, Measures, _rising, _Work, lay_out

M = Measures(box=100, across=50, down=10)


def boxes_of(columns):
    return [Box(key, column, 40) for column, keys in enumerate(columns) for key in keys]


def overlaps(layout, width):
    return [
        (a.key, b.key)
        for a, b in combinations(layout.boxes, 2)
        if a.x < b.x + width and b.x < a.x + width and a.y < b.y + b.height and b.y < a.y + a.height
    ]


def test_a_chain_is_a_straight_row():
    layout = lay_out(boxes_of(["a", "b", "c"]), [("a", "b"), ("b", "c")], M)

    assert [(box.x, box.y) for box in layout.boxes] == [(12, 12), (162, 12), (312, 12)]
    assert [line.points for line in layout.lines] == [((112, 32), (162, 32)), ((262, 32), (312, 32))]
    assert (layout.width, layout.height) == (424, 64)


def test_lines_that_cross_are_untangled():
    layout = lay_out(boxes_of(["ab", "xy"]), [("a", "y"), ("b", "x")], M)

    tops = {box.key: box.y for box in layout.boxes}
    assert (tops["a"] < tops["b"]) is (tops["y"] < tops["x"])


def test_two_in_two_out_cross_once_at_least():
    work = _Work(boxes_of(["ab", "xy"]), [("a", "x"), ("a", "y"), ("b", "x"), ("b", "y")])

    # The complete graph of two and two has one crossing whatever the order.
    assert work.crossings() == 1
    work.reduce_crossings()
    assert work.crossings() == 1


@pytest.mark.parametrize("seed", range(4))
def test_crossings_are_counted_as_by_hand(seed):
    chance = random.Random(seed)  # noqa: S311
    left, right = [f"l{n}" for n in range(6)], [f"r{n}" for n in range(6)]
    edges = [(one, other) for one in left for other in right if chance.random() < 0.4]
    work = _Work(boxes_of([left, right]), edges)

    by_hand = sum(
        (left.index(a) - left.index(c)) * (right.index(b) - right.index(d)) < 0
        for (a, b), (c, d) in combinations(edges, 2)
    )
    assert work.crossings() == by_hand


def test_a_long_line_passes_between_boxes():
    layout = lay_out(boxes_of(["a", "b", "c"]), [("a", "b"), ("b", "c"), ("a", "c")], M)

    (long,) = [line for line in layout.lines if (line.source, line.target) == ("a", "c")]
    (middle,) = [box for box in layout.boxes if box.key == "b"]
    passing = [y for x, y in long.points if middle.x <= x <= middle.x + M.box]
    assert passing
    assert all(y < middle.y or y > middle.y + middle.height for y in passing)


def test_lines_meet_a_box_one_below_another_in_the_order_they_come():
    boxes = [Box("a", 0, 40), Box("b", 0, 40), Box("c", 0, 40), Box("pot", 1, 80)]
    layout = lay_out(boxes, [("c", "pot"), ("a", "pot"), ("b", "pot")], M)

    tops = {box.key: box.y for box in layout.boxes}
    reached = {line.source: line.points[-1][1] for line in layout.lines}
    assert sorted(reached, key=reached.get) == sorted("abc", key=tops.get)
    assert min(b - a for a, b in pairwise(sorted(reached.values()))) == 20


def test_a_step_back_is_drawn_straight():
    layout = lay_out(boxes_of(["a", "b"]), [("a", "b"), ("b", "a")], M)

    assert len(layout.lines[1].points) == 2


@pytest.mark.parametrize(("size", "seed"), [(20, 1), (100, 2), (150, 3)])
def test_many_boxes_never_overlap_and_stay_inside(size, seed):
    chance = random.Random(seed)  # noqa: S311
    boxes = [Box(n, chance.randint(-2, 5), chance.choice((40, 60, 200))) for n in range(size)]
    column = {box.key: box.column for box in boxes}
    edges = [
        (one, other)
        for one, other in (chance.sample(range(size), 2) for _ in range(2 * size))
        if column[one] < column[other]
    ]
    layout = lay_out(boxes, edges, M)

    assert overlaps(layout, M.box) == []
    assert min(box.y for box in layout.boxes) >= MARGIN
    assert max(box.y + box.height for box in layout.boxes) <= layout.height - MARGIN
    assert len(layout.lines) == len(edges)
    before, after = _Work(boxes, edges), _Work(boxes, edges)
    after.reduce_crossings()
    assert after.crossings() < before.crossings() * 0.8


def test_one_lot_in_forty_batches_crosses_nothing():
    batches, lots = [f"b{n}" for n in range(40)], [f"l{n}" for n in range(40)]
    chance = random.Random(7)  # noqa: S311
    shuffled = chance.sample(lots, 40)
    edges = [("wax", batch) for batch in batches] + list(zip(batches, shuffled, strict=True))
    work = _Work(boxes_of([["wax"], batches, lots]), edges)
    work.reduce_crossings()

    assert work.crossings() == 0


def test_an_empty_drawing_is_empty():
    assert lay_out([], []).boxes == ()


@pytest.mark.parametrize(
    ("wanted", "nearest"), [([1, 2, 3], [1, 2, 3]), ([3, 1], [2, 2]), ([0, 9, 3, 6], [0, 6, 6, 6]), ([], [])]
)
def test_places_are_pooled_where_they_would_pass_each_other(wanted, nearest):
    assert _rising(wanted) == nearest
