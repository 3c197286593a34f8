"""How much of a lot is in what: worked by hand, and against sums over every path of an independent graph library."""

import itertools
from fractions import Fraction

import networkx as nx
import pytest

from batches.lineage.lineage import DrawStep, Flow, Key, Lineage, OutputStep
from batches.tracing.shares import Place, Run, backward, forward, held
from inventory.lots.family import LotTransfer

KG = 10**9
WAX, OIL, WICK, JARS, MELT, BLEND, PAIL, TIN = range(1, 9)
POUR, MIX, AGAIN = range(1, 4)


def lot(pk):
    return Key("lot", pk)


def batch(pk):
    return Key("batch", pk)


def came(**kinds):
    return Flow(kinds, {})


def test_a_lot_in_forty_jars_is_where_the_jars_are():
    # 10 kg of wax, 8 kg of it in 40 jars and 2 scrap jars; of the jars 30 were sent, 1 was sampled, 9 are there.
    found = Lineage(
        {WAX, JARS},
        {POUR},
        drawn=[DrawStep(WAX, POUR, False, 84 * KG // 10)],
        came=[OutputStep(POUR, JARS, "good", 40), OutputStep(POUR, None, "scrap", 2)],
    )
    flows = {
        WAX: Flow({"received": 10 * KG}, {"drawn": 84 * KG // 10, "counted": KG // 10}),
        JARS: Flow({"made": 40}, {"dispatched": 30, "sampled": 1}),
    }

    shares = forward(lot(WAX), found, flows, {POUR: Run(False, 42, 9 * KG, over=True)})

    # 8.4 kg over 42 units: 200 g in each.
    assert shares.amounts[lot(JARS)] == 8 * KG
    assert shares.by_place() == {
        Place.SHELF: Fraction(15 * KG, 10) + Fraction(9 * KG, 5),
        Place.SENT: 6 * KG,
        Place.SCRAPPED: Fraction(4 * KG, 10),
        Place.SAMPLED: Fraction(2 * KG, 10),
        Place.COUNTED: Fraction(KG, 10),
    }
    assert [(end.place, end.quantity, end.amount) for end in shares.ends if end.key == lot(JARS)] == [
        (Place.SHELF, 9, Fraction(18 * KG, 10)),
        (Place.SENT, 30, 6 * KG),
        (Place.SAMPLED, 1, Fraction(2 * KG, 10)),
    ]


def test_a_blend_keeps_its_share_by_weight_and_the_rest_was_lost():
    # 80 of wax and 30 of oil give 100 of blend (of checked practice: 110 in, 100 out), of which 50 go on into a pot of
    # which 10 are recovered as melt; 4 units come out.
    found = Lineage(
        {OIL, BLEND, MELT, TIN},
        {MIX, POUR},
        drawn=[DrawStep(OIL, MIX, False, 30), DrawStep(BLEND, POUR, False, 50)],
        came=[
            OutputStep(MIX, BLEND, "good", 100),
            OutputStep(POUR, TIN, "good", 4),
            OutputStep(POUR, MELT, "melt", 10),
        ],
    )
    flows = {
        OIL: Flow({"received": 30}, {"drawn": 30}),
        BLEND: Flow({"made": 100}, {"drawn": 50}),
        MELT: came(made=10),
        TIN: came(made=4),
    }
    runs = {MIX: Run(True, 110, 110, over=True), POUR: Run(False, 4, 50, over=True)}

    shares = forward(lot(OIL), found, flows, runs)

    in_blend = Fraction(30 * 100, 110)
    assert shares.amounts[lot(BLEND)] == in_blend
    assert shares.amounts[lot(MELT)] == in_blend / 2 / 5
    assert shares.amounts[lot(TIN)] == in_blend / 2 * 4 / 5
    assert shares.by_place() == {Place.SHELF: in_blend, Place.LOST: 30 - in_blend}
    # Back from the tins: so much of the oil is in them.
    assert backward(lot(TIN), found, flows, runs)[lot(OIL)] == in_blend / 2 * 4 / 5


def test_wicks_go_into_units_and_not_into_recovered_melt():
    found = Lineage(
        {WICK, JARS, MELT},
        {POUR},
        drawn=[DrawStep(WICK, POUR, True, 44)],
        came=[OutputStep(POUR, JARS, "good", 40), OutputStep(POUR, MELT, "melt", 10)],
    )
    flows = {WICK: Flow({"received": 100}, {"drawn": 44}), JARS: came(made=40), MELT: came(made=10)}

    shares = forward(lot(WICK), found, flows, {POUR: Run(False, 40, 50, over=True)})

    assert shares.amounts[lot(JARS)] == 44
    assert shares.amounts[lot(MELT)] == 0


@pytest.mark.parametrize(
    ("planned", "by_weight", "progress"), [(4, False, 30), (1, False, 0), (40, True, 30)]
)
def test_what_has_not_come_out_yet_is_in_progress(planned, by_weight, progress):
    # 40 were weighed in. Of four units planned one came out; more than planned came out; 10 of a blend came out.
    quantity = 10 if by_weight else 1
    found = Lineage(
        {WAX, TIN},
        {POUR},
        drawn=[DrawStep(WAX, POUR, False, 40)],
        came=[OutputStep(POUR, TIN, "good", quantity)],
    )
    flows = {WAX: Flow({"received": 40}, {"drawn": 40}), TIN: came(made=quantity)}

    shares = forward(lot(WAX), found, flows, {POUR: Run(by_weight, planned, 40, over=False)})

    assert shares.by_place().get(Place.PROGRESS, 0) == progress
    assert shares.amounts[lot(TIN)] == 40 - progress


def test_a_run_given_up_with_nothing_lost_all():
    found = Lineage({WAX}, {POUR}, drawn=[DrawStep(WAX, POUR, False, 40)])

    shares = forward(
        lot(WAX),
        found,
        {WAX: Flow({"received": 50}, {"drawn": 40})},
        {POUR: Run(False, 4, 40, over=True)},
    )

    assert shares.by_place() == {Place.SHELF: 10, Place.LOST: 40}


def test_melt_that_goes_into_its_own_run_again_is_told_and_ends_the_walk():
    # Of the first part 10 are recovered, and go back into the pot for the second.
    found = Lineage(
        {WAX, MELT, TIN},
        {POUR},
        drawn=[DrawStep(WAX, POUR, False, 40), DrawStep(MELT, POUR, False, 10)],
        came=[OutputStep(POUR, MELT, "melt", 10), OutputStep(POUR, TIN, "good", 4)],
    )
    flows = {
        WAX: Flow({"received": 40}, {"drawn": 40}),
        MELT: Flow({"made": 10}, {"drawn": 10}),
        TIN: came(made=4),
    }

    shares = forward(lot(WAX), found, flows, {POUR: Run(False, 4, 50, over=True)})

    assert shares.by_place() == {Place.SHELF: 32, Place.REWORK: 8}
    assert backward(lot(TIN), found, flows, {POUR: Run(False, 4, 50, over=True)})[lot(WAX)] == 32


def test_what_was_put_right_or_found_changes_what_a_lot_held():
    assert held(Flow({"received": 100, "found": 5, "counted": 3}, {"corrected": 40})) == 68
    assert held(Flow({"received": 100}, {"counted": 3, "corrected": 100})) == 0


def along_paths(graph, root, target):
    """The share of the root in the target: over every path the product of the parts, added up."""
    if root == target:
        return Fraction(1)
    total = Fraction(0)
    for path in nx.all_simple_paths(graph, root, target):
        part = Fraction(1)
        for step in itertools.pairwise(path):
            part *= graph.edges[step]["part"]
        total += part
    return total


def test_diamonds_and_mixes_come_to_the_sums_over_every_path():
    # A pail is decanted into two jars that are mixed again and drawn, with the pail itself, at two levels.
    found = Lineage(
        {1, 2, 3, 4, 5, 6},
        {1, 2},
        drawn=[
            DrawStep(4, 1, False, 30),
            DrawStep(1, 1, False, 10),
            DrawStep(5, 2, False, 20),
            DrawStep(2, 2, False, 5),
        ],
        poured=[LotTransfer(1, 2, 40), LotTransfer(1, 3, 20), LotTransfer(2, 4, 25), LotTransfer(3, 4, 15)],
        came=[OutputStep(1, 5, "good", 36), OutputStep(2, 6, "good", 5)],
    )
    flows = {
        1: Flow({"received": 90}, {"drawn": 10, "decanted": 60}),
        2: Flow({"decanted": 40}, {"decanted": 25, "drawn": 5}),
        3: Flow({"decanted": 20}, {"decanted": 15, "scrapped": 5}),
        4: Flow({"decanted": 40}, {"drawn": 30}),
        5: Flow({"made": 36}, {"drawn": 20}),
        6: Flow({"made": 5}, {"dispatched": 2}),
    }
    runs = {1: Run(True, 40, 40, over=True), 2: Run(False, 5, 25, over=True)}
    graph = nx.DiGraph()
    for source, target, part in [
        (lot(1), lot(2), Fraction(40, 90)),
        (lot(1), lot(3), Fraction(20, 90)),
        (lot(2), lot(4), Fraction(25, 40)),
        (lot(3), lot(4), Fraction(15, 20)),
        (lot(4), batch(1), Fraction(30, 40)),
        (lot(1), batch(1), Fraction(10, 90)),
        (batch(1), lot(5), Fraction(36, 40)),
        (lot(5), batch(2), Fraction(20, 36)),
        (lot(2), batch(2), Fraction(5, 40)),
        (batch(2), lot(6), Fraction(1)),
    ]:
        graph.add_edge(source, target, part=part)

    shares = forward(lot(1), found, flows, runs)

    assert shares.amounts == {key: 90 * along_paths(graph, lot(1), key) for key in graph.nodes}
    assert sum(end.amount for end in shares.ends) == 90
    back = backward(lot(6), found, flows, runs)
    for pk in (1, 2, 3, 4, 5):
        assert back[lot(pk)] == held(flows[pk]) * along_paths(graph, lot(pk), lot(6))
