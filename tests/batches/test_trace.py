"""From any lot or batch: what went into it and where it went; worked by hand, and by brute force."""

import random

import pytest

from batches.models import Batch, Draw, Outcome
from batches.trace import Balance, backward, balance, forward
from inventory.models import Lot, Movement
from tests.house import day, grams, money

pytestmark = pytest.mark.django_db


def reached(nodes):
    """Keys of every lot and batch in a tree, its roots left out."""
    found, waiting = set(), [child for node in nodes for child in node.children]
    while waiting:
        node = waiting.pop()
        found.add(("lot", node.lot.pk) if node.lot else ("batch", node.batch.pk))
        waiting += node.children
    return found


def keys(*rows):
    return {("lot" if isinstance(row, Lot) else "batch", row.pk) for row in rows}


def sent_to(nodes):
    """Names and quantities of every dispatch in a tree, in no order."""
    found, waiting = [], list(nodes)
    while waiting:
        node = waiting.pop()
        found += [(dispatch.to, quantity) for dispatch, quantity in node.dispatches]
        waiting += node.children
    return sorted(found)


@pytest.fixture
def three_lots(books):
    """OpenStax, Principles of Accounting Vol. 1, 10.3, read: 150 at 21, 225 at 27, 210 at 33; two batches."""
    lots = [
        books.receive("vessel", count, cost=count * price, at=day(number))
        for number, (count, price) in enumerate([(150, 21), (225, 27), (210, 33)], 1)
    ]
    # A formula needs wax; this one is free, so that the vessels are all the cost there is.
    wax = books.receive("wax", "100 kg")
    jar = books.formula(
        "Amber jar", [("wax", "wax_share", 1_000_000), ("vessel", "per_unit", 1)], fill="100 g"
    )
    first, second = books.plan(jar, 120), books.plan(jar, 180)
    books.draw_into(first, (lots[0], 120), at=day(5))
    books.draw_into(first, (wax, "12 kg"), at=day(5))
    books.draw_into(second, (lots[0], 20), (lots[1], 160), at=day(15))
    books.draw_into(second, (wax, "18 kg"), at=day(15))
    made = [*books.finish(first, 120, at=day(5)), *books.finish(second, 180, at=day(15))]
    return {"lots": lots, "wax": wax, "batches": [first, second], "made": made}


def test_two_batches_from_named_lots_cost_and_leave_what_the_textbook_says(books, three_lots):
    # OpenStax, Principles of Accounting Vol. 1, 10.3, specific identification, read: 2,520, then 420 + 4,320
    # = 4,740; left 10 at 21, 65 at 27, 210 at 33 = 8,895. Exact.
    assert [books.of(lot) for lot in three_lots["made"]] == [(120, money(2_520)), (180, money(4_740))]
    assert [books.of(lot) for lot in three_lots["lots"]] == [
        (10, money(210)),
        (65, money(1_755)),
        (210, money(6_930)),
    ]
    assert sum(lot.value for lot in three_lots["lots"]) == money(8_895)


def test_a_lot_is_traced_forward_to_both_batches(three_lots):
    (root,) = forward(lots=[three_lots["lots"][0]])

    assert [(node.batch, node.quantity) for node in root.children] == list(
        zip(three_lots["batches"], [120, 20], strict=True)
    )
    assert [node.children[0].lot for node in root.children] == three_lots["made"]
    assert [node.children[0].quantity for node in root.children] == [120, 180]


def test_a_batch_is_traced_back_to_its_own_lots_only(three_lots):
    lots, (_, second) = three_lots["lots"], three_lots["batches"]

    (root,) = backward(batches=[second])

    vessels = [(node.lot, node.quantity) for node in root.children if node.lot.item.name == "vessel"]
    assert vessels == [(lots[0], 20), (lots[1], 160)]
    assert reached([root]) == keys(lots[0], lots[1], three_lots["wax"])


def test_an_unused_lot_leads_nowhere(three_lots):
    (root,) = forward(lots=[three_lots["lots"][2]])

    assert root.children == []


def test_every_lot_is_accounted_for(three_lots):
    # Lot closure: received = drawn + sent + on hand, for every lot. Derived.
    assert [balance(fresh(lot)) for lot in three_lots["lots"]] == [
        Balance(150, 0, (("Drawn into batches", 140),), 10),
        Balance(225, 0, (("Drawn into batches", 160),), 65),
        Balance(210, 0, (), 210),
    ]
    assert {balance(lot).unexplained for lot in Lot.objects.all()} == {0}


def fresh(lot):
    return Lot.objects.get(pk=lot.pk)


def test_what_was_found_and_sent_is_in_the_balance(books):
    jar = books.receive("fragrance", "120 g")
    books.draw(jar, "128 g", found=True)
    crate = books.receive("lid", 50)
    books.send(crate, 20)
    books.reverse(books.send(crate, 5))

    assert balance(fresh(jar)) == Balance(grams(128), 0, (("Drawn into batches", grams(128)),), 0)
    assert balance(fresh(crate)) == Balance(50, 0, (("Sent out", 20),), 30)


def test_a_balance_that_does_not_close_says_by_how_much(books):
    jar = books.receive("fragrance", "120 g")
    Lot.objects.filter(pk=jar.pk).update(on_hand=grams(100))

    assert balance(fresh(jar)).unexplained == grams(20)


def test_dispatches_hang_on_the_lot_they_left(books, three_lots):
    first, second = three_lots["made"]
    books.send(first, 30, to="Harbour Street Market")
    books.send(first, 12, to="Ida Fennimore")
    books.send(second, 5, to="Ida Fennimore")
    books.reverse(books.send(second, 9, to="Nobody after all"))

    assert sent_to(forward(lots=[three_lots["lots"][0]])) == [
        ("Harbour Street Market", 30),
        ("Ida Fennimore", 5),
        ("Ida Fennimore", 12),
    ]
    assert sent_to(forward(lots=[three_lots["lots"][1]])) == [("Ida Fennimore", 5)]


def test_a_corrected_draw_leads_to_the_right_lot_only(books, three_lots):
    first = three_lots["batches"][0]
    wrong = first.draws.first().movement.posting

    books.correct(wrong, (three_lots["lots"][2], 120))

    assert keys(first).isdisjoint(reached(forward(lots=[three_lots["lots"][0]])))
    assert keys(first) <= reached(forward(lots=[three_lots["lots"][2]]))
    assert reached(backward(batches=[first])) == keys(three_lots["lots"][2], three_lots["wax"])


def test_a_finish_that_was_undone_leads_nowhere(books, three_lots):
    first, wrong = three_lots["batches"][0], three_lots["made"][0]
    books.undo(first)
    (right,) = books.finish(first, 118, 0, {"Chipped vessel": 2})

    made = [node.lot for node in forward(batches=[first])[0].children]
    assert made == [right]
    assert backward(lots=[wrong])[0].children == []


def test_blends_in_blends_are_traced_to_the_end(books):
    # wax → base → scented base → candle, twice over; one jar of fragrance goes in at two levels.
    wax, oil = books.receive("wax", "10 kg", cost=50), books.receive("fragrance", "1 kg", cost=40)
    base = books.plan(books.formula("base", [("wax", "wax_share", 1_000_000)]), grams(5_000))
    books.draw_into(base, (wax, "5 kg"))
    (base_lot,) = books.finish(base, grams(5_000))
    mix = books.formula("scented base", [("base", "wax_share", 1_000_000), ("fragrance", "of_melt", 50_000)])
    scented = books.plan(mix, grams(2_000))
    books.draw_into(scented, (base_lot, "1.9 kg"))
    books.draw_into(scented, (oil, "100 g"))
    (scented_lot,) = books.finish(scented, grams(2_000))
    tin = books.formula(
        "Tin", [("scented base", "wax_share", 1_000_000), ("fragrance", "of_melt", 10_000)], fill="100 g"
    )
    pour = books.plan(tin, 10)
    books.draw_into(pour, (scented_lot, "990 g"))
    books.draw_into(pour, (oil, "10 g"))
    (tins,) = books.finish(pour, 10)

    assert reached(backward(lots=[tins])) == keys(pour, scented_lot, oil, scented, base_lot, base, wax)
    assert reached(forward(lots=[oil])) == keys(scented, pour, scented_lot, tins)
    # The jar is met twice on the way back, and unfolded once.
    (root,) = backward(lots=[tins])
    met = [node for node in every(root) if node.lot == oil]
    assert sorted((node.quantity, node.again) for node in met) == [(grams(10), False), (grams(100), True)]


def every(node):
    yield node
    for child in node.children:
        yield from every(child)


def test_a_long_chain_is_traced_to_its_end(books):
    # Blend after blend, 40 deep.
    lot = books.receive("wax", "10 kg")
    first = lot
    for number in range(40):
        source = lot.item.name
        version = books.formula(f"blend {number}", [(source, "wax_share", 1_000_000)])
        batch = books.plan(version, grams(1))
        books.draw_into(batch, (lot, "1 g"))
        (lot,) = books.finish(batch, grams(1))

    assert keys(first) <= reached(backward(lots=[lot]))
    assert keys(lot) <= reached(forward(lots=[first]))
    assert len(reached(forward(lots=[first]))) == 80


def test_two_roots_share_what_they_share(three_lots):
    roots = backward(batches=three_lots["batches"])

    assert reached(roots) == keys(three_lots["lots"][0], three_lots["lots"][1], three_lots["wax"])
    assert sum(node.lot == three_lots["wax"] for root in roots for node in root.children) == 2


def edges_by_hand():
    """Every edge from the raw rows: a lot into a batch, a batch into a lot, reversed ones left out."""
    undone = set(Movement.objects.exclude(posting__reversal=None).values_list("posting", flat=True))
    edges = set()
    for draw in Draw.objects.select_related("movement"):
        if draw.movement.posting_id not in undone:
            edges.add((("lot", draw.movement.lot_id), ("batch", draw.batch_id)))
    for outcome in Outcome.objects.all():
        if outcome.lot_id and outcome.posting_id not in undone:
            edges.add((("batch", outcome.batch_id), ("lot", outcome.lot_id)))
    return edges


def closure(start, edges):
    """All that can be reached, by adding neighbours until nothing is added."""
    found = {start}
    while True:
        more = {target for source, target in edges if source in found} - found
        if not more:
            return found - {start}
        found |= more


def random_history(books, seed):
    chance = random.Random(seed)  # noqa: S311
    lots = [books.receive("wax", "1 kg") for _ in range(4)]
    versions = [
        books.formula("blend", [("wax", "wax_share", 500_000), ("blend", "wax_share", 500_000)], name="mix"),
        books.formula("tin", [("blend", "wax_share", 600_000), ("wax", "wax_share", 400_000)], fill="50 g"),
    ]
    seed_batch = books.plan(versions[0], grams(100))
    books.draw_into(seed_batch, (lots[0], "100 g"))
    lots += books.finish(seed_batch, grams(100), without=True)
    batches, postings = [], []
    for _ in range(14):
        batch = books.plan(chance.choice(versions), 3)
        batches.append(batch)
        for item in ("wax", "blend"):
            usable = [lot for lot in lots if lot.item.name == item and books.of(lot)[0] >= grams(4)]
            for lot in chance.sample(usable, min(len(usable), chance.randint(0, 2))):
                postings.append(books.draw_into(batch, (lot, f"{chance.randint(1, 3)} g")))
        if chance.random() < 0.3 and postings:
            wrong = postings.pop(chance.randrange(len(postings)))
            books.correct(wrong)
        if batch.draws.standing().exists():
            made = books.finish(batch, grams(chance.randint(4, 9)), without=True)
            if chance.random() < 0.25:
                books.undo(batch)
            else:
                lots += made


@pytest.mark.parametrize("seed", range(6))
def test_a_random_history_is_traced_as_by_brute_force(books, seed):
    random_history(books, seed)
    edges = edges_by_hand()
    back = {(target, source) for source, target in edges}
    assert len(edges) > 15

    for lot in Lot.objects.all():
        assert reached(forward(lots=[lot])) == closure(("lot", lot.pk), edges)
        assert reached(backward(lots=[lot])) == closure(("lot", lot.pk), back)
        assert balance(lot).unexplained == 0
    for batch in Batch.objects.all():
        assert reached(forward(batches=[batch])) == closure(("batch", batch.pk), edges)
        assert reached(backward(batches=[batch])) == closure(("batch", batch.pk), back)


def test_a_trace_costs_as_many_queries_however_many_lots_share_a_level(books, django_assert_num_queries):
    tin = books.formula("tin", [("wax", "wax_share", 1_000_000)], fill="50 g")
    wax = books.receive("wax", "10 kg")

    def pour(times):
        for _ in range(times):
            batch = books.plan(tin, 1)
            books.draw_into(batch, (wax, "50 g"))
            books.finish(batch, 1)

    # Three levels (lot, its batches, their lots), a query each, for both levels of lots one more for what was
    # decanted, and one for what was sent.
    pour(2)
    with django_assert_num_queries(6):
        forward(lots=[wax])
    pour(8)
    with django_assert_num_queries(6):
        forward(lots=[wax])
