"""Ancestors and descendants against an independent graph library, on random histories; and what they cost."""

import random

import networkx as nx
import pytest
from django.db import connection

from batches.lineage import lineage
from batches.lineage.lineage import Key, ancestors, descendants, flows, sent
from batches.models import Batch, Draw, Outcome
from batches.tracing.trace import trace_of
from inventory.lots import family
from inventory.models import Lot, Movement
from tests.house import grams
from tests.performance import families

pytestmark = pytest.mark.django_db


def graph_by_hand():
    """The graph from the raw rows, one by one: quantities on its edges, what was reversed left out."""
    undone = set(Movement.objects.exclude(posting__reversal=None).values_list("posting", flat=True))
    graph = nx.MultiDiGraph()
    graph.add_nodes_from(Key("lot", pk) for pk in Lot.objects.values_list("pk", flat=True))
    graph.add_nodes_from(Key("batch", pk) for pk in Batch.objects.values_list("pk", flat=True))
    for draw in Draw.objects.select_related("movement", "line"):
        if draw.movement.posting_id not in undone:
            lot, batch = Key("lot", draw.movement.lot_id), Key("batch", draw.batch_id)
            graph.add_edge(lot, batch, quantity=-draw.movement.quantity, how=draw.line.basis)
    for outcome in Outcome.objects.exclude(lot=None):
        if outcome.posting_id not in undone:
            batch, lot = Key("batch", outcome.batch_id), Key("lot", outcome.lot_id)
            graph.add_edge(batch, lot, quantity=outcome.quantity, how=outcome.result)
    pourings: dict[int, tuple[list, list]] = {}
    for move in Movement.objects.filter(kind="decanted", posting__kind="decant"):
        if move.posting_id not in undone:
            pourings.setdefault(move.posting_id, ([], []))[move.quantity > 0].append(move)
    for gave, got in pourings.values():
        for out in gave:
            for into in got:
                quantity = into.quantity if len(gave) == 1 else -out.quantity
                graph.add_edge(
                    Key("lot", out.lot_id), Key("lot", into.lot_id), quantity=quantity, how="poured"
                )
    return graph


def history(books, seed):
    """Decants and mixes, blends in blends, partial dispatches, parts, scrap, and reversals of each."""
    chance = random.Random(seed)  # noqa: S311
    lots = [books.receive("wax", "1 kg") for _ in range(3)]
    mix = books.formula("blend", [("wax", "wax_share", 500_000), ("blend", "wax_share", 500_000)], name="mix")
    first = books.formula("blend", [("wax", "wax_share", 1_000_000)], name="first")
    tin = books.formula("tin", [("blend", "wax_share", 600_000), ("wax", "wax_share", 400_000)], fill="50 g")

    def some(item):
        held = [lot for lot in lots if lot.item.name == item and books.of(lot)[0] >= grams(8)]
        return chance.choice(held) if held else None

    def pour():
        lot = some(chance.choice(("wax", "blend")))
        other = some(lot.item.name) if lot else None
        if lot and other and lot != other and chance.random() < 0.5:
            made = books.decant((lot, f"{chance.randint(1, 3)} g"), (other, f"{chance.randint(1, 3)} g"))
        elif lot:
            jars = [f"{chance.randint(1, 3)} g" for _ in range(chance.randint(1, 2))]
            made = books.decant((lot, f"{sum(int(jar[0]) for jar in jars)} g"), jars=jars)
        else:
            return
        if chance.random() < 0.2:
            books.reverse(made[0].movements.get().posting)
        else:
            lots.extend(made)

    def run():
        batch = books.plan(chance.choice((mix, first, tin, tin)), grams(5) if chance.random() < 0.5 else 4)
        drawn = []
        for name in {line.item.name for line in batch.version.lines.select_related("item")}:
            for _ in range(chance.randint(1, 2)):
                if lot := some(name):
                    drawn.append(books.draw_into(batch, (lot, f"{chance.randint(1, 4)} g")))
        if drawn and chance.random() < 0.3:
            books.correct(drawn.pop())
        if not drawn:
            return
        if batch.version == tin:
            made = books.finish(batch, chance.randint(1, 3), chance.randint(0, 1), without=True)
        else:
            made = books.finish(batch, grams(chance.randint(4, 9)), without=True)
        if chance.random() < 0.2:
            books.undo(batch)
        else:
            lots.extend(made)

    def send():
        goods = [lot for lot in lots if lot.item.name == "tin" and books.of(lot)[0]]
        if goods:
            posting = books.send(chance.choice(goods), 1, to=f"Buyer {chance.randint(1, 4)}")
            if chance.random() < 0.3:
                books.reverse(posting)

    for _ in range(30):
        chance.choice((pour, run, run, send))()


@pytest.mark.parametrize("seed", range(2))
def test_a_random_history_has_the_ancestors_and_descendants_networkx_finds(books, seed):
    history(books, seed)
    graph = graph_by_hand()
    assert graph.number_of_edges() > 25

    for key in graph.nodes:
        ids = {"lot_ids" if key.what == "lot" else "batch_ids": [key.pk]}
        down, up = descendants(**ids), ancestors(**ids)
        below, above = nx.descendants(graph, key) | {key}, nx.ancestors(graph, key) | {key}
        assert down.carrying(key) == keys_of(down) == below
        assert up.carried_by(key) == keys_of(up) == above
        assert edges_of(down) == edges_in(graph, below)
        assert edges_of(up) == edges_in(graph, above)


@pytest.mark.parametrize("seed", range(2))
def test_many_roots_at_once_reach_what_each_reaches_alone(books, seed):
    history(books, seed)
    graph = graph_by_hand()
    lots = list(Lot.objects.values_list("pk", flat=True))

    down, up = descendants(lots), ancestors(lots)

    for pk in lots:
        key = Key("lot", pk)
        assert down.carrying(key) == nx.descendants(graph, key) | {key}
        assert up.carried_by(key) == nx.ancestors(graph, key) | {key}


def keys_of(found):
    return {Key("lot", pk) for pk in found.lots} | {Key("batch", pk) for pk in found.batches}


def edges_of(found):
    """Quantities between two keys, added up."""
    sums = {}
    steps = [(Key("lot", row.lot), Key("batch", row.batch), row.quantity) for row in found.drawn]
    steps += [(Key("lot", row.parent), Key("lot", row.child), row.quantity) for row in found.poured]
    steps += [
        (Key("batch", row.batch), Key("lot", row.lot), row.quantity)
        for row in found.came
        if row.lot in found.lots
    ]
    assert {(source, target) for source, target, _ in steps} == set(found.edges())
    for source, target, quantity in steps:
        sums[source, target] = sums.get((source, target), 0) + quantity
    return sums


def edges_in(graph, keys):
    sums = {}
    for source, target, quantity in graph.subgraph(keys).edges(data="quantity"):
        sums[source, target] = sums.get((source, target), 0) + quantity
    return sums


@pytest.mark.parametrize("seed", range(2))
def test_what_came_went_and_was_sent_is_what_the_movements_say(books, seed):
    history(books, seed)
    lots = list(Lot.objects.all())

    found, gone = flows([lot.pk for lot in lots]), sent([lot.pk for lot in lots])

    for lot in lots:
        moves = [
            move
            for move in lot.movements.select_related("posting")
            if not move.posting.reverses_id and not hasattr(move.posting, "reversal")
        ]
        flow = found.get(lot.pk, lineage.Flow({}, {}))
        assert flow.on_hand == lot.on_hand
        for kind in Movement.Kind.values:
            ours = [move.quantity for move in moves if move.kind == kind]
            assert flow.came.get(kind, 0) == sum(q for q in ours if q > 0)
            assert flow.went.get(kind, 0) == -sum(q for q in ours if q < 0)
        left = [row.quantity for row in gone if row.lot == lot.pk]
        assert sum(left) == flow.went.get("dispatched", 0)


def test_a_written_history_agrees_and_is_traced_as_networkx_traces_it(agreeing):
    firsts = families.write(600)
    graph = graph_by_hand()

    # Six decants, a mix, three blends, and the tins: twelve levels and more.
    assert len(nx.dag_longest_path(graph)) >= 6 + 1 + 2 * 4
    for first in firsts:
        down = descendants([first])
        below = nx.descendants(graph, Key("lot", first)) | {Key("lot", first)}
        assert keys_of(down) == below
        assert edges_of(down) == edges_in(graph, below)
        last = max(down.lots)
        above = nx.ancestors(graph, Key("lot", last)) | {Key("lot", last)}
        up = ancestors([last])
        assert keys_of(up) == above
        assert edges_of(up) == edges_in(graph, above)
        # All of the pail is somewhere, to the last millionth of a gram.
        found = trace_of(Lot.objects.get(pk=first))
        assert sum(end.amount for end in found.shares.ends) == grams(20_000)


def test_queries_grow_with_depth_and_not_with_width(books, django_assert_num_queries):
    tin = books.formula("tin", [("wax", "wax_share", 1_000_000)], fill="50 g")
    wax = books.receive("wax", "10 kg")

    def pour(times):
        for _ in range(times):
            batch = books.plan(tin, 1)
            books.draw_into(batch, (wax, "50 g"))
            books.finish(batch, 1)

    # Two levels of lots (the wax, the tins), each asked what was drawn and poured of it, and one of batches; or one
    # query for all keys, and for what was drawn, poured and came out.
    queries = 4 if connection.vendor == "postgresql" else 5
    pour(1)
    with django_assert_num_queries(queries):
        descendants([wax.pk])
    pour(5)
    with django_assert_num_queries(queries):
        descendants([wax.pk])
    everything = list(Lot.objects.values_list("pk", flat=True))
    with django_assert_num_queries(4):
        ancestors(everything)


STATEMENTS = {
    name: value
    for name, value in {**vars(family), **vars(lineage)}.items()
    if name.isupper() and isinstance(value, str) and "{among}" in value and not name.startswith("_")
}


@pytest.mark.parametrize("name", STATEMENTS)
def test_no_statement_needs_to_read_a_whole_table(db, name):
    # SQLite is told of a million rows in each table, PostgreSQL that reading a table is dear.
    statement, given = STATEMENTS[name], [1, 2, 3]
    if connection.vendor == "sqlite":
        these, given = family.among(given)
        statement = statement.format(among=f"IN ({these})")
    else:
        statement = statement.format(among="= ANY(%s::bigint[])")
    given = [given] * statement.count("%s")
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("ANALYZE")
            rows = [(table, index, "1000000 " + " ".join(["20"] * 3)) for table, index in _indexes(cursor)]
            cursor.execute("DELETE FROM sqlite_stat1")
            cursor.executemany("INSERT INTO sqlite_stat1 VALUES (%s, %s, %s)", rows)
            cursor.execute("ANALYZE sqlite_schema")
            cursor.execute("EXPLAIN QUERY PLAN " + statement, given)
            plan = [row[3] for row in cursor.fetchall()]
            whole = [step for step in plan if "BLOOM" in step or ("SCAN" in step and "json_each" not in step)]
        else:
            cursor.execute("SET LOCAL enable_seqscan = off")
            cursor.execute("EXPLAIN " + statement, given)
            whole = [row[0] for row in cursor.fetchall() if "Seq Scan" in row[0]]
            for recursive in (lineage.ONWARD, lineage.BACK):
                cursor.execute("EXPLAIN " + recursive, [[1, 2], [3]])
                whole += [row[0] for row in cursor.fetchall() if "Seq Scan" in row[0]]

    assert whole == []


def _indexes(cursor):
    cursor.execute("SELECT tbl_name, name FROM sqlite_master WHERE type = 'index'")
    return cursor.fetchall()
