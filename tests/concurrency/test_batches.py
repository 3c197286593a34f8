"""Two people at one batch: each verb waits for the other, and judges by what it finds then."""

import pytest

from batches.fill_checks.checking import CannotCheck
from batches.formulas import approving
from batches.models import Batch, BatchNote, FillCheck, Labour, Reading, StruckReading
from batches.planning import plans
from batches.production import left_over, runs, versions
from batches.production.finishing import Recovered, Result, finish
from inventory.ledger import books as stock
from inventory.lots import moving
from inventory.lots.moving import Taking
from inventory.models import Commitment, Item, Lot
from inventory.sales_orders import customer_orders
from tests.concurrency.overlap import names, overlapping, twice
from tests.house import TODAY, grams, money

pytestmark = pytest.mark.django_db(transaction=True)


def state(batch):
    return Batch.objects.get(pk=batch.pk).state


def needs():
    return {each.item.name: each.quantity for each in Commitment.objects.select_related("item")}


def wicked(books, wicks_a_unit=2, **more):
    """A candle of 100 g of wax with wicks, of which a unit takes some, and a label."""
    lines = [("wax", "wax_share", 1_000_000), ("wick", "per_unit", wicks_a_unit), ("label", "per_unit", 1)]
    return books.formula("Slate", lines, fill="100 g", **more)


def of_melt_and_wicks(books, wax, both):
    """A batch of ten with 1 kg of wax, twenty wicks of the second lot and then twenty of the first."""
    batch = books.plan(wicked(books), 10)
    books.draw_into(batch, (wax, "1 kg"))
    first, second = both
    return batch, [books.draw_into(batch, (lot, 20)) for lot in (second, first)]


def take_wicks(both, sign):
    """Somebody takes one wick of each of the two lots."""
    return moving.draw([Taking(lot.pk, 1) for lot in both], signature=sign())


# Planning


def test_nobody_plans_from_a_version_that_is_being_retired(books, blend):
    retire = books.sign(reason="It cracks")

    results = overlapping(
        lambda: approving.change_state(blend.pk, "retired", signature=retire),
        lambda: books.plan(blend, grams(1_000)),
    )

    assert names(results) == ("StateChange", "BatchError")
    assert (Batch.objects.count(), Commitment.objects.count()) == (0, 0)


def test_nobody_plans_for_an_order_that_is_being_called_off(books, wax):
    version = books.formula("Slate", [("wax", "wax_share", 1_000_000)], fill="100 g")
    order, other = books.order_of("Ada Moor", ("Slate", 5)), books.order_of("Wilf Harrow", ("Slate", 3))

    results = overlapping(
        lambda: customer_orders.call_off(order.pk, signature=books.sign(reason="Not wanted")),
        lambda: books.plan(version, 5, order=order),
    )

    assert names(results) == ("CustomerOrder", "BatchError")
    assert Batch.objects.count() == 0
    # Three for the other order, and no wax for a batch.
    assert [(each.source, each.quantity) for each in Commitment.objects.all()] == [(other.code, 3)]


# Drawing


def test_nobody_calls_a_batch_off_that_something_is_being_drawn_into(books, wax, batch, sign):
    off = sign(reason="Too hot today")

    results = overlapping(
        lambda: books.draw_into(batch, (wax, "400 g")), lambda: plans.call_off(batch.pk, signature=off)
    )

    assert names(results) == ("Posting", "BatchError")
    assert (state(batch), needs()) == ("started", {"wax": grams(600)})
    assert books.of(wax) == (grams(9_600), money(96))


def test_several_lines_are_drawn_with_all_their_lots_locked_at_once(books, wax, both, pause, sign):
    """The second lot first, then the first: whoever takes both meanwhile waits for the whole."""
    batch, (first, second) = books.plan(wicked(books), 10), both

    def bench():
        with runs.drawing_into(batch.pk, {first.pk, second.pk}, signature=sign()) as locked:
            for lot in (second, first):
                line = books.line(batch, "wick")
                runs.draw(locked, line, [Taking(lot.pk, 10)], signature=sign())
                pause.here()

    results = overlapping(bench, lambda: take_wicks(both, sign), pause)

    assert names(results) == ("NoneType", "Posting")
    # Ten and one of each: 0.11 of 10.00 and 0.22 of 20.00.
    assert books.of(first) == (989, money("9.89"))
    assert books.of(second) == (989, money("19.78"))


def test_a_correction_locks_the_wrong_lot_and_the_right_one_at_once(
    books, wax, both, pause, sign, monkeypatch
):
    first, second = both
    batch = books.plan(wicked(books), 10)
    wrong = books.draw_into(batch, (second, 20))
    monkeypatch.setattr(runs, "draw", pause.before(runs.draw))

    results = overlapping(lambda: books.correct(wrong, (first, 20)), lambda: take_wicks(both, sign), pause)

    assert names(results) == ("Posting", "Posting")
    assert books.of(first) == (979, money("9.79"))
    assert books.of(second) == (999, money("19.98"))


def test_a_correction_that_waited_for_the_finish_goes_into_what_was_made(books, wax, batch, sign):
    """5.00 went into 400 g; it was 700 g of wax, worth 7.00."""
    wrong = books.draw_into(batch, (wax, "500 g"))

    results = overlapping(
        lambda: finish(batch.pk, Result(good=grams(400)), signature=sign()),
        lambda: books.correct(wrong, (wax, "700 g")),
    )

    assert names(results) == ("Posting", "Posting")
    (made,) = Lot.objects.filter(item__name="blend")
    assert books.of(made) == (grams(400), money(7))
    assert books.of(wax) == (grams(9_300), money(93))
    assert (state(batch), needs()) == ("finished", {})


# Readings, labor, fill checks, what the bench sends


def test_no_reading_revives_a_batch_that_is_being_called_off(books, batch, sign):
    def read():
        return runs.take_reading(batch.pk, Reading.Kind.ROOM, 21_000, note="", signature=sign())

    results = overlapping(lambda: plans.call_off(batch.pk, signature=sign(reason="No power")), read)

    assert names(results) == ("Batch", "BatchError")
    assert (state(batch), Reading.objects.count()) == ("called_off", 0)


def test_a_reading_is_struck_out_by_one_of_two(batch, sign):
    reading = runs.take_reading(batch.pk, Reading.Kind.ROOM, 21_000, note="", signature=sign())

    results = twice(lambda: runs.strike_reading(reading.pk, signature=sign(reason="In the sun")))

    assert results == ("StruckReading", "BatchError")
    assert StruckReading.objects.get().reading == reading


def test_minutes_are_taken_back_by_one_of_two(books, batch, maker, sign):
    entry, _ = (
        runs.note_labour(
            batch, person_id=maker.pk, step=step, minutes=minutes, worked_on=TODAY, signature=sign()
        )
        for step, minutes in (("pouring", 90), ("labeling", 20))
    )

    results = twice(lambda: runs.take_back_labour(entry.pk, signature=sign(reason="It was 60")))

    assert results == ("Labour", "BatchError")
    assert sorted(Labour.objects.values_list("step", "minutes")) == [
        ("labeling", 20),
        ("pouring", -90),
        ("pouring", 90),
    ]


def test_no_fill_check_is_kept_of_a_batch_that_is_being_called_off(books, wax, sign):
    batch = books.plan(books.formula("Slate", [("wax", "wax_share", 1_000_000)], fill="100 g"), 10)
    books.correct(books.draw_into(batch, (wax, "1 kg")))

    _, refused = overlapping(
        lambda: plans.call_off(batch.pk, signature=sign(reason="No power")),
        lambda: books.check_fill(batch, [100, 101], declared="100 g"),
    )

    assert isinstance(refused, CannotCheck)
    assert (state(batch), FillCheck.objects.count()) == ("called_off", 0)


def test_no_entry_is_kept_of_a_batch_that_is_being_called_off(books, batch, sign):
    results = overlapping(
        lambda: plans.call_off(batch.pk, signature=sign(reason="No power")),
        lambda: books.bench(batch, "note", text="The wax is yellow"),
    )

    assert names(results) == ("Batch", "BatchError")
    assert (state(batch), BatchNote.objects.count()) == ("called_off", 0)


# Finishing


def test_a_batch_is_finished_by_one_of_two(books, wax, batch, sign):
    books.draw_into(batch, (wax, "500 g"))

    results = twice(lambda: finish(batch.pk, Result(good=grams(400)), signature=sign()))

    assert results == ("Posting", "BatchError")
    (made,) = Lot.objects.filter(item__name="blend")
    assert books.of(made) == (grams(400), money(5))


def test_what_comes_of_melt_that_is_being_corrected_is_held(books, wax, sign):
    """70 g of fragrance in 930 g of wax is 7.53 %, within 10 %; it was 140 g, 15.05 %. The recovered half of it is all
    that the other batch is made of, which is finished meanwhile. Another lot of fragrance is not held."""
    Item.objects.filter(name="wax").update(maximum_load_ppm=100_000, maximum_load_basis="of_wax")
    melt, scent = books.item("melt", kind="wax", made_here=True), books.receive("fragrance", "1 kg", cost=40)
    lines = [("wax", "wax_share", 1_000_000), ("fragrance", "of_wax", 75_000)]
    source = books.plan(books.formula("Fig", lines, fill="100 g"), 10)
    books.draw_into(source, (wax, "930 g"))
    wrong = books.draw_into(source, (scent, "70 g"))
    _, tub = books.finish(source, 5, recovered=[Recovered(melt, grams(500))])
    other = books.plan(books.formula("Tealight", [("melt", "wax_share", 1_000_000)], fill="100 g"), 5)
    books.draw_into(other, (tub, "500 g"))
    beside = books.receive("fragrance", "1 kg", cost=40)

    results = overlapping(
        lambda: books.correct(wrong, (scent, "140 g")),
        lambda: finish(other.pk, Result(good=2), signature=sign()),
    )

    assert names(results) == ("Posting", "Posting")
    assert Lot.objects.get(outcomes__batch=other).held
    beside.refresh_from_db()
    assert not beside.held


def test_a_batch_is_opened_again_by_one_of_two(books, wax, batch, sign):
    books.draw_into(batch, (wax, "500 g"))
    (made,) = books.finish(batch, grams(400))

    results = twice(lambda: books.undo(batch))

    assert results == ("Batch", "BatchError")
    assert (state(batch), books.of(made)) == ("started", (0, 0))
    assert batch.ends.count() == 2


def test_a_finish_is_undone_with_all_its_lots_locked_at_once(books, wax, pause, sign, monkeypatch):
    """Seconds in the older lot, and a sample kept of the good ones in the younger, which is put back first."""
    batch = books.plan(books.formula("Slate", [("wax", "wax_share", 1_000_000)], fill="100 g"), 10)
    books.draw_into(batch, (wax, "1 kg"))
    (second,) = books.finish(batch, seconds=10)
    books.undo(batch)
    made = {lot.grade: lot for lot in books.finish(batch, 6, 4, retained=1)}
    assert made["second"] == second
    both = [second, made["first"]]
    monkeypatch.setattr(stock, "reverse", pause.after(stock.reverse))

    results = overlapping(lambda: books.undo(batch), lambda: take_wicks(both, sign), pause)

    assert names(results) == ("Batch", "LotShort")
    assert [books.of(lot) for lot in both] == [(0, 0)] * 2


# Another version, and what was left over


def poured(books, wax, both):
    """Ten that were weighed from both lots of wicks, the second first; and the version they really are."""
    batch, _ = of_melt_and_wicks(books, wax, both)
    return batch, wicked(books, name="Slate, second")


def test_a_batch_is_said_to_be_of_another_version_by_one_of_two(books, wax, both, sign):
    batch, right = poured(books, wax, both)
    said = sign(reason="The other ticket")

    results = twice(lambda: versions.correct_version(batch.pk, right.pk, signature=said))

    assert results == ("VersionCorrection", "BatchError")
    assert Batch.objects.get(pk=batch.pk).version == right
    assert batch.version_corrections.count() == 1
    assert [books.of(lot)[0] for lot in (wax, *both)] == [grams(9_000), 980, 980]


@pytest.mark.parametrize("verb", ["draw", "finish", "undo", "settle", "fill check"])
def test_whoever_waited_for_another_version_goes_on_with_it(books, wax, both, sign, verb):
    batch, right = poured(books, wax, both)
    label = books.receive("label", 50, cost=5)
    old = books.line(batch, "label")
    if verb == "undo":
        books.finish(batch, 5, last=False, without=True)
    answers = [left_over.Answer(right.lines.get(item__name="wick").pk, both[0].pk, back=2)]
    acts = {
        "draw": lambda: runs.draw_line(batch.pk, old, [Taking(label.pk, 10)], signature=sign()),
        "finish": lambda: finish(batch.pk, Result(good=5), signature=sign(), without=True),
        "undo": lambda: books.undo(batch),
        "settle": lambda: left_over.settle(batch.pk, answers, reason="", signature=sign(reason="Over")),
        "fill check": lambda: books.check_fill(batch, [100, 101], declared="100 g"),
    }

    _, later = overlapping(
        lambda: versions.correct_version(batch.pk, right.pk, signature=sign(reason="The other ticket")),
        acts[verb],
    )

    assert not isinstance(later, Exception)
    assert Batch.objects.get(pk=batch.pk).version == right
    assert set(batch.draws.standing().values_list("line__version", flat=True)) == {right.pk}


def test_a_draw_that_was_drawn_again_for_another_version_is_not_corrected_as_well(books, wax, both, sign):
    batch, right = poured(books, wax, both)
    wrong = books.draw_into(batch, (wax, "100 g"))

    results = overlapping(
        lambda: versions.correct_version(batch.pk, right.pk, signature=sign(reason="The other ticket")),
        lambda: books.correct(wrong, (wax, "50 g")),
    )

    assert names(results) == ("VersionCorrection", "CannotReverse")
    # 10 kg less 1 kg and 100 g, once.
    assert books.of(wax) == (grams(8_900), money(89))


def test_a_version_is_corrected_with_all_lots_locked_at_once(books, wax, both, pause, sign, monkeypatch):
    batch = books.plan(wicked(books), 10)
    for lot in reversed(both):
        books.draw_into(batch, (lot, 20))
    right = wicked(books, name="Slate, second")
    monkeypatch.setattr(versions, "draw", pause.after(versions.draw))

    results = overlapping(
        lambda: versions.correct_version(batch.pk, right.pk, signature=sign(reason="The other ticket")),
        lambda: take_wicks(both, sign),
        pause,
    )

    assert names(results) == ("VersionCorrection", "Posting")
    assert [books.of(lot)[0] for lot in both] == [979, 979]


def left(books, batch, *pairs):
    line = books.line(batch, "wick")
    return [left_over.Answer(line, lot.pk, back=back) for lot, back in pairs]


def test_what_was_left_over_is_put_back_with_all_lots_locked_at_once(
    books, wax, both, pause, sign, monkeypatch
):
    first, second = both
    batch, _ = of_melt_and_wicks(books, wax, both)
    monkeypatch.setattr(left_over, "_take_back", pause.after(left_over._take_back))
    answers = left(books, batch, (second, 5), (first, 5))

    results = overlapping(
        lambda: left_over.settle(batch.pk, answers, reason="", signature=sign()),
        lambda: take_wicks(both, sign),
        pause,
    )

    assert names(results) == ("NoneType", "Posting")
    assert [books.of(lot)[0] for lot in both] == [984, 984]


def test_what_was_left_over_is_settled_batch_first_and_lots_after(books, wax, both, pause, sign, monkeypatch):
    """Whoever draws into the batch has it and wants the lot; who settles must not have the lot and want the batch."""
    first, _ = both
    batch, _ = of_melt_and_wicks(books, wax, both)
    monkeypatch.setattr(moving, "draw", pause.before(moving.draw))
    answers = left(books, batch, (first, 5))

    def draw_more():
        line = books.line(batch, "wick")
        with runs.drawing_into(batch.pk, signature=sign()) as locked:
            return runs.draw(locked, line, [Taking(first.pk, 4)], signature=sign())

    def settle():
        left_over.settle(batch.pk, answers, reason="", signature=sign())

    results = overlapping(draw_more, settle, pause)

    assert names(results) == ("Posting", "NoneType")
    # 1,000 less 20 and 4, and 5 came back.
    assert books.of(first)[0] == 981
    assert (
        -sum(batch.draws.standing().filter(movement__lot=first).values_list("movement__quantity", flat=True))
        == 19
    )
