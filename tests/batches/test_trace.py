"""From any lot or batch: what went into it, where it went and how much of it is where; worked by hand."""

from fractions import Fraction

import pytest
from django.db import connection

from batches.lineage.lineage import Key
from batches.production.finishing import Recovered
from batches.tracing.drawing import clipped, drawing_of
from batches.tracing.holders import holders_of
from batches.tracing.shares import Place
from batches.tracing.table import rows_of
from batches.tracing.trace import balance_of_batch, balance_of_lot, trace_of
from batches.tracing.trace_pdf_drawing import fitting, room, scale_of
from batches.tracing.tree import backward, flat, forward, outline
from inventory.models import Customer, Lot
from tests.house import day, grams, money

pytestmark = pytest.mark.django_db
TWO_PERCENT = 20_000


def reached(node):
    """Keys of every lot and batch in a tree, its root left out."""
    return {each.key for depth, each in flat(node) if depth}


def keys(*rows):
    return {Key("lot" if isinstance(row, Lot) else "batch", row.pk) for row in rows}


def sent_to(thing):
    return sorted((row.dispatch.customer.name, row.quantity) for row in trace_of(thing).left)


def fresh(lot):
    return Lot.objects.get(pk=lot.pk)


def balance(lot):
    return balance_of_lot(fresh(lot), at_most_ppm=TWO_PERCENT)


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
    root = forward(trace_of(three_lots["lots"][0]))

    assert [(node.batch, node.quantity) for node in root.children] == list(
        zip(three_lots["batches"], [120, 20], strict=True)
    )
    assert [node.children[0].lot for node in root.children] == three_lots["made"]
    assert [node.children[0].quantity for node in root.children] == [120, 180]


def test_a_batch_is_traced_back_to_its_own_lots_only(three_lots):
    lots, (_, second) = three_lots["lots"], three_lots["batches"]

    found = trace_of(second)
    root = backward(found)

    vessels = [(node.lot, node.quantity) for node in root.children if node.lot.item.name == "vessel"]
    assert vessels == [(lots[0], 20), (lots[1], 160)]
    assert reached(root) == keys(lots[0], lots[1], three_lots["wax"])
    assert [(lot, amount) for lot, amount in found.sources] == [
        (lots[0], 20),
        (lots[1], 160),
        (three_lots["wax"], grams(18_000)),
    ]


def test_an_unused_lot_leads_nowhere_and_is_all_on_the_shelf(three_lots):
    found = trace_of(three_lots["lots"][2])

    assert forward(found).children == []
    assert found.shares.by_place() == {Place.SHELF: 210}
    assert drawing_of(found) is None


def test_how_much_of_a_lot_is_in_which_jars_and_where_they_are(books, three_lots):
    first, second = three_lots["made"]
    books.send(first, 30, to="Harbour Street Market")
    books.take_out(second, 18, "sample")
    found = trace_of(three_lots["wax"])

    # 12 kg in 120 jars, 18 kg in 180: 100 g in each.
    assert found.shares.amounts[Key("lot", first.pk)] == grams(12_000)
    assert [(part.place, part.item.name, part.quantity, part.amount) for part in found.parts] == [
        (Place.SHELF, "wax", grams(70_000), grams(70_000)),
        (Place.SHELF, "Amber jar", 252, grams(25_200)),
        (Place.SENT, "Amber jar", 30, grams(3_000)),
        (Place.SAMPLED, "Amber jar", 18, grams(1_800)),
    ]
    assert found.goods == {Place.SHELF: 252, Place.SENT: 30, Place.SAMPLED: 18}
    (left,) = found.left
    assert (left.quantity, left.amount) == (30, grams(3_000))


def test_every_lot_is_accounted_for(three_lots):
    # Lot closure: received = drawn + sent + on hand, for every lot. Derived.
    told = [(sums.came, sums.went, sums.on_hand) for sums in map(balance, three_lots["lots"])]
    assert told == [
        ((("Received", 150),), (("Drawn into batches", 140),), 10),
        ((("Received", 225),), (("Drawn into batches", 160),), 65),
        ((("Received", 210),), (), 210),
    ]
    assert {balance(lot).remainder for lot in Lot.objects.all()} == {0}


def test_what_was_found_is_more_than_came_and_what_was_reversed_went_nowhere(books):
    jar = books.receive("fragrance", "120 g")
    books.draw(jar, "128 g", found=True)
    crate = books.receive("lid", 50)
    books.send(crate, 20)
    books.reverse(books.send(crate, 5))

    found = balance(jar)
    assert (found.whole, found.remainder, found.explained) == (
        grams(120),
        -grams(8),
        (("Found", -grams(8)),),
    )
    # 8 of 120 is 6.7 %.
    assert not found.within
    sums = balance(crate)
    assert (sums.went, sums.on_hand, sums.remainder) == ((("Sent out", 20),), 30, 0)


def test_a_balance_whose_books_do_not_agree_says_by_how_much(books):
    jar = books.receive("fragrance", "120 g")
    Lot.objects.filter(pk=jar.pk).update(on_hand=grams(100))

    assert balance(jar).gap == grams(20)


def test_the_balance_of_a_batch_counts_pieces_at_their_fill_weight(books):
    candle = books.candle(loss_ppm=40_000)
    shelf = {
        name: books.receive(name, quantity)
        for name, quantity in (("wax", "10 kg"), ("fragrance", "1 kg"), ("wick", 99), ("vessel", 99))
    }
    batch = books.plan(candle, 10)
    # 1,040 g of melt for ten jars of 100 g, a wick and a vessel too many.
    for name, quantity in (("wax", "957 g"), ("fragrance", "83 g"), ("wick", 11), ("vessel", 11)):
        books.draw_into(batch, (shelf[name], quantity))
    assert not balance_of_batch(batch, at_most_ppm=TWO_PERCENT).melt.closed
    books.finish(batch, 7, 1, {"Sinkhole": 1}, without=True)
    batch.refresh_from_db()

    sums = balance_of_batch(batch, at_most_ppm=TWO_PERCENT)

    assert sums.melt.came == (("wax", grams(957)), ("fragrance", grams(83)))
    assert sums.melt.went == (("Good", grams(700)), ("Seconds", grams(100)), ("Scrap", grams(100)))
    # 140 g stayed out, of which 40 g were to be expected.
    assert (sums.melt.remainder, sums.melt.allowed, sums.melt.unexplained) == (
        grams(140),
        grams(40),
        grams(100),
    )
    assert not sums.melt.within
    assert [(item.name, own.whole, own.remainder) for item, own in sums.fitted] == [
        ("wick", 11, 2),
        ("vessel", 11, 2),
    ]


def test_dispatches_stand_with_what_they_carry(books, three_lots):
    first, second = three_lots["made"]
    books.send(first, 30, to="Harbour Street Market")
    books.send(first, 12, to="Ida Fennimore")
    books.send(second, 5, to="Ida Fennimore")
    books.reverse(books.send(second, 9, to="Nobody after all"))

    assert sent_to(three_lots["lots"][0]) == [
        ("Harbour Street Market", 30),
        ("Ida Fennimore", 5),
        ("Ida Fennimore", 12),
    ]
    assert sent_to(three_lots["lots"][1]) == [("Ida Fennimore", 5)]
    assert sent_to(three_lots["batches"][1]) == [("Ida Fennimore", 5)]


def test_everybody_who_has_some_is_named_once_with_all_they_have(books, three_lots, owner, bookkeeper):
    """Of the first 120 jars 20 went to Ida in two parcels, of the second 180 one to her and 5 to nobody known."""
    first, second = three_lots["made"]
    for lot, many, number in ((first, 12, 6), (first, 8, 7), (second, 1, 16)):
        books.send(lot, many, at=day(number), to="Ida Fennimore")
    books.send(second, 5, at=day(17), to="")
    Customer.objects.update(reach="555 0100\nida@fennimore.example")

    ida, market = holders_of(trace_of(three_lots["wax"]))

    assert (ida.display_name(owner), ida.reached(owner)) == (
        "Ida Fennimore",
        "555 0100, ida@fennimore.example",
    )
    assert (ida.display_name(bookkeeper), ida.reached(bookkeeper)) == (f"Customer {ida.customer.pk}", "")
    assert (ida.goods, ida.sendings) == (f"21 × {first.item}", 3)
    assert [code.replace("\N{NO-BREAK SPACE}", " ") for code in ida.codes] == [
        batch.spaced_code for batch in three_lots["batches"]
    ]
    assert (market.display_name(owner), market.goods) == ("Unknown, market", f"5 × {first.item}")


def test_a_corrected_draw_leads_to_the_right_lot_only(books, three_lots):
    first = three_lots["batches"][0]
    wrong = first.draws.first().movement.posting

    books.correct(wrong, (three_lots["lots"][2], 120))

    assert keys(first).isdisjoint(reached(forward(trace_of(three_lots["lots"][0]))))
    assert keys(first) <= reached(forward(trace_of(three_lots["lots"][2])))
    assert reached(backward(trace_of(first))) == keys(three_lots["lots"][2], three_lots["wax"])


def test_a_finish_that_was_undone_leads_nowhere_until_it_is_entered_again(books, three_lots):
    first, code = three_lots["batches"][0], three_lots["made"][0]
    books.undo(first)
    assert backward(trace_of(fresh(code))).children == []
    assert forward(trace_of(first)).children == []

    (right,) = books.finish(first, 118, 0, {"Chipped vessel": 2})

    # The same result keeps its lot: the code may be on the jars.
    assert right == code
    assert [node.lot for node in forward(trace_of(first)).children] == [code]
    assert [node.batch for node in backward(trace_of(fresh(code))).children] == [first]


@pytest.fixture
def nested(books):
    """wax → base → scented base → tins; one jar of fragrance goes in at two levels."""
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
    return {"path": [wax, base, base_lot, scented, scented_lot, pour, tins], "oil": oil}


def test_blends_in_blends_are_traced_to_the_end(nested):
    wax, base, base_lot, scented, scented_lot, pour, tins = nested["path"]
    oil = nested["oil"]
    back = backward(trace_of(tins))

    assert reached(back) == keys(pour, scented_lot, oil, scented, base_lot, base, wax)
    assert reached(forward(trace_of(oil))) == keys(scented, pour, scented_lot, tins)
    # The jar is met twice on the way back, and unfolded where it stands highest.
    met = [node for _, node in flat(back) if node.lot == oil]
    assert sorted((node.quantity, node.again) for node in met) == [(grams(10), False), (grams(100), True)]
    # Of the wax 990 of the 2,000 g of scented base, 95 % of it: 940.5 g. Of the oil half of 100 g less a hundredth,
    # and 10 g.
    found = trace_of(tins)
    assert found.sources == [(oil, Fraction(99, 200) * grams(100) + grams(10)), (wax, grams("940.5"))]


def test_a_drawing_has_what_went_in_on_the_left_and_where_it_went_on_the_right(nested):
    wax, _, base_lot, scented, scented_lot, _, tins = nested["path"]
    drawn = drawing_of(trace_of(scented_lot))
    at = {box.code.replace(" ", ""): box.x for box in drawn.boxes}

    assert at[wax.code] < at[base_lot.code] < at[scented.code] < at[scented_lot.code] < at[tins.code]
    assert at[nested["oil"].code] < at[scented.code]
    (root,) = [box for box in drawn.boxes if box.is_root]
    assert root.code.replace(" ", "") == scented_lot.code
    assert root.state.replace("\N{NO-BREAK SPACE}", " ") == "1,010 g here"
    said = {line.whole for line in drawn.lines}
    assert f"990 g drawn, {scented_lot.spaced_code} to {nested['path'][5].spaced_code}" in {
        words.replace("\N{NO-BREAK SPACE}", " ") for words in said
    }


def test_a_printed_drawing_leaves_out_what_would_not_be_readable(books):
    pail = books.receive("wax", "1 kg")
    jars = books.decant((pail, "400 g"), jars=["10 g"] * 40)

    drawing = fitting(trace_of(pail), "A4")

    # Letters of 13 units stay six points high; forty jars, one below another, do not fit.
    assert 6 <= 13 * scale_of(drawing, room("A4")) <= 9
    assert drawing.says == f"40 on the right carry some of {pail.spaced_code}."
    drawn = {box.code for box in drawing.boxes}
    assert len(drawn) + drawing.left_out == 41
    assert drawn == {pail.spaced_code, *(jar.spaced_code for jar in jars[-len(drawn) + 1 :])}
    assert 10 <= len(drawn) <= 16


def test_a_table_has_a_row_for_every_step_and_every_place(nested, owner):
    scented_lot = nested["path"][4]
    rows = rows_of(trace_of(scented_lot), owner)

    told = [(row.way, row.step, row.source.item.name, row.what, row.quantity, row.amount) for row in rows]
    assert told == [
        ("In", 1, "scented base", "Made", grams(2_000), None),
        ("In", 2, "fragrance", "Drawn", grams(100), grams(100)),
        ("In", 2, "base", "Drawn", grams(1_900), grams(1_900)),
        ("In", 3, "base", "Made", grams(5_000), None),
        ("In", 4, "wax", "Drawn", grams(5_000), grams(1_900)),
        ("Out", 1, "scented base", "Drawn", grams(990), grams(990)),
        ("Out", 2, "Tin", "Made", 10, grams(990)),
        ("Out", 1, "scented base", Place.SHELF, grams(1_010), grams(1_010)),
        ("Out", 3, "Tin", Place.SHELF, 10, grams(990)),
    ]


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

    assert keys(first) <= reached(backward(trace_of(lot)))
    assert keys(lot) <= reached(forward(trace_of(first)))
    assert len(reached(forward(trace_of(first)))) == 80


def test_melt_that_goes_back_into_its_own_run_ends_the_trace(books, shelf):
    # The bench refuses a run's own melt; poured into another jar first it may still come back.
    books.item("Recovered melt", kind="wax", made_here=True)
    again = books.formula(
        "Again", [("wax", "wax_share", 500_000), ("Recovered melt", "wax_share", 500_000)], fill="100 g"
    )
    batch = books.plan(again, 4)
    books.draw_into(batch, (shelf["wax"], "400 g"))
    melt = books.item("Recovered melt")
    made = books.finish(batch, 2, last=False, recovered=[Recovered(melt, grams(100))])
    back = next(lot for lot in made if lot.item == melt)
    (jar,) = books.decant((back, "100 g"))
    books.draw_into(batch, (jar, "40 g"))
    books.finish(batch, 2, without=True)

    found = trace_of(shelf["wax"])
    assert sum(end.amount for end in found.shares.ends) == grams(10_000)
    drawing = drawing_of(found)
    # Wax, the run, what came out of it twice, its melt and the jar of it.
    assert len(drawing.boxes) == 6
    steps = outline(forward(found))
    assert [step for step, _ in steps].count("open") == [step for step, _ in steps].count("close")


def test_a_trace_costs_as_many_queries_however_many_lots_share_a_level(books, django_assert_num_queries):
    tin = books.formula("tin", [("wax", "wax_share", 1_000_000)], fill="50 g")
    wax = books.receive("wax", "10 kg")

    def pour(times):
        for _ in range(times):
            batch = books.plan(tin, 1)
            books.draw_into(batch, (wax, "50 g"))
            (made,) = books.finish(batch, 1)
            books.send(made, 1)

    # Back two, onward five (four where one asks for all keys), and one each for lots, batches, flows, pots, what was
    # sent and to whom.
    queries = 12 if connection.vendor == "postgresql" else 13
    pour(2)
    with django_assert_num_queries(queries):
        trace_of(wax)
    pour(8)
    with django_assert_num_queries(queries):
        trace_of(wax)


@pytest.mark.parametrize(
    ("words", "letters", "shown"),
    [
        ("Cedar & Black Tea", 20, "Cedar & Black Tea"),
        ("Cedar & Black Tea candle", 17, "Cedar & Black…"),
        ("Unbelievablylongword", 10, "Unbelieva…"),
        ("一二三四五六", 6, "一二…"),
        ("", 5, ""),
    ],
)
def test_words_in_a_box_are_cut_between_words_where_they_can_be(words, letters, shown):
    assert clipped(words, letters) == shown
