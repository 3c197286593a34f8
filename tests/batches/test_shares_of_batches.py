"""Traces that start at a batch, and wicks and vessels traced backward: every amount, worked by hand."""

from fractions import Fraction

from batches.lineage.lineage import DrawStep, Flow, Key, Lineage, OutputStep
from batches.tracing.shares import Place, Run, backward, forward
from inventory.lots.family import LotTransfer

WAX, WICK, VESSEL, TINS, SECONDS, MELT, BOX, APART, NEXT = range(1, 10)
POUR, AGAIN, OTHER = range(1, 4)


def lot(pk):
    return Key("lot", pk)


def batch(pk):
    return Key("batch", pk)


def test_of_a_batch_all_its_product_is_followed_and_nothing_else():
    """30 tins, 5 seconds, 3 scrap, 2 to remelt, 1 that was emptied: 41 units. Its melt went into another batch.

    The wax has the batch's own key, and what another batch made has nothing to do with it.
    """
    found = Lineage(
        {WAX, TINS, SECONDS, MELT, BOX, APART, NEXT},
        {POUR, AGAIN, OTHER},
        drawn=[
            DrawStep(WAX, POUR, False, 900),
            DrawStep(WAX, OTHER, False, 50),
            DrawStep(MELT, AGAIN, False, 40),
        ],
        poured=[LotTransfer(TINS, BOX, 6)],
        came=[
            OutputStep(POUR, TINS, "good", 30),
            OutputStep(POUR, SECONDS, "second", 5),
            OutputStep(POUR, MELT, "melt", 100),
            OutputStep(POUR, None, "scrap", 3),
            OutputStep(POUR, None, "rework", 2),
            OutputStep(POUR, None, "emptied", 1),
            OutputStep(AGAIN, NEXT, "good", 4),
            OutputStep(OTHER, APART, "good", 7),
            OutputStep(OTHER, None, "scrap", 8),
        ],
    )
    flows = {
        WAX: Flow({"received": 1_000}, {"drawn": 950}),
        TINS: Flow({"made": 30}, {"decanted": 6, "dispatched": 10, "sampled": 1}),
        SECONDS: Flow({"made": 5}, {"scrapped": 2}),
        MELT: Flow({"made": 100}, {"drawn": 40}),
        BOX: Flow({"decanted": 6}, {"dispatched": 2}),
        APART: Flow({"made": 7}, {"dispatched": 7}),
        NEXT: Flow({"made": 4}, {}),
    }
    runs = {
        POUR: Run(False, 41, 900, over=True),
        AGAIN: Run(False, 4, 40, over=True),
        OTHER: Run(False, 15, 50, over=True),
    }

    shares = forward(batch(POUR), found, flows, runs)

    assert shares.total == 41
    assert {key: amount for key, amount in shares.amounts.items() if amount} == {
        batch(POUR): 41,
        lot(TINS): 30,
        lot(SECONDS): 5,
        lot(BOX): 6,
    }
    assert {(end.key, end.place, end.quantity): end.amount for end in shares.ends if end.amount} == {
        (batch(POUR), Place.SCRAPPED, 3): 3,
        (batch(POUR), Place.REWORK, 2): 2,
        (batch(POUR), Place.REWORK, 1): 1,
        (lot(TINS), Place.SHELF, 13): 13,
        (lot(TINS), Place.SENT, 10): 10,
        (lot(TINS), Place.SAMPLED, 1): 1,
        (lot(SECONDS), Place.SHELF, 3): 3,
        (lot(SECONDS), Place.SCRAPPED, 2): 2,
        (lot(BOX), Place.SHELF, 4): 4,
        (lot(BOX), Place.SENT, 2): 2,
    }
    assert shares.by_place() == {
        Place.SHELF: 20,
        Place.SENT: 12,
        Place.SCRAPPED: 5,
        Place.SAMPLED: 1,
        Place.REWORK: 3,
    }


def test_of_a_batch_that_gave_nothing_there_is_nothing():
    found = Lineage({WAX}, {POUR}, drawn=[DrawStep(WAX, POUR, False, 40)])

    shares = forward(
        batch(POUR), found, {WAX: Flow({"received": 50}, {})}, {POUR: Run(False, 4, 40, over=True)}
    )

    assert (shares.total, shares.amounts, shares.ends) == (0, {batch(POUR): 0}, [])


# 1,000 of wax, 12 wicks and 11 vessels gave 8 tins, 2 seconds, 2 that were emptied, and 100 of melt. So 900 of wax are
# in the ten that were not emptied; wicks and vessels are in all twelve.
CAME = [
    OutputStep(POUR, TINS, "good", 8),
    OutputStep(POUR, SECONDS, "second", 2),
    OutputStep(POUR, None, "emptied", 2),
    OutputStep(POUR, MELT, "melt", 100),
]
DRAWN = [DrawStep(WAX, POUR, False, 1_000), DrawStep(WICK, POUR, True, 12), DrawStep(VESSEL, POUR, True, 11)]
FLOWS = {
    WAX: Flow({"received": 2_000}, {"drawn": 1_000}),
    WICK: Flow({"received": 100}, {"drawn": 12}),
    VESSEL: Flow({"received": 50}, {"drawn": 11}),
    TINS: Flow({"made": 8}, {"decanted": 4}),
    SECONDS: Flow({"made": 2}, {}),
    MELT: Flow({"made": 100}, {}),
    BOX: Flow({"decanted": 4}, {}),
}
RUNS = {POUR: Run(False, 12, 1_000, over=True)}


def back_from(root, *made, poured=()):
    found = Lineage({WAX, WICK, VESSEL, *made}, {POUR}, drawn=DRAWN, poured=list(poured), came=CAME)
    return {(key.what, key.pk): amount for key, amount in backward(root, found, FLOWS, RUNS).items()}


def test_wicks_and_vessels_are_in_every_unit_and_wax_in_those_that_were_not_emptied():
    # 8/10 of 900 of wax; 8/12 of twelve wicks and of eleven vessels.
    assert back_from(lot(TINS), TINS) == {
        ("lot", TINS): 8,
        ("lot", WAX): 720,
        ("lot", WICK): 8,
        ("lot", VESSEL): Fraction(22, 3),
    }
    assert back_from(lot(SECONDS), SECONDS) == {
        ("lot", SECONDS): 2,
        ("lot", WAX): 180,
        ("lot", WICK): 2,
        ("lot", VESSEL): Fraction(11, 6),
    }


def test_half_of_the_tins_carry_half_of_it():
    assert back_from(lot(BOX), TINS, BOX, poured=[LotTransfer(TINS, BOX, 4)]) == {
        ("lot", BOX): 4,
        ("lot", TINS): 4,
        ("lot", WAX): 360,
        ("lot", WICK): 4,
        ("lot", VESSEL): Fraction(11, 3),
    }


def test_recovered_melt_carries_no_wick_and_no_vessel():
    assert back_from(lot(MELT), MELT) == {
        ("lot", MELT): 100,
        ("lot", WAX): 100,
        ("lot", WICK): 0,
        ("lot", VESSEL): 0,
    }


def test_all_that_was_drawn_is_in_the_batch_itself():
    assert back_from(batch(POUR)) == {("lot", WAX): 1_000, ("lot", WICK): 12, ("lot", VESSEL): 11}
