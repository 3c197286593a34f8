"""The books closed up to a day: nothing is posted before it by any verb, and what was wrong is put right after it.

The first lots come on 1 March, the books are closed through the 10th, and it is the 20th. Figures worked by hand.
"""

from datetime import UTC, date, datetime

import pytest
from django.db import DatabaseError, connection, transaction

from batches.models import BatchEnd, Labour
from batches.production import finishing, runs
from inventory import checks as stock_checks
from inventory.customers.customers import Contact
from inventory.deliveries import late_costs
from inventory.importing.import_service import look
from inventory.ledger import closing
from inventory.ledger.books import BookError, BooksClosed
from inventory.ledger.closing import CannotClose
from inventory.lots import write_offs
from inventory.lots.moving import revalue
from inventory.models import ClosedStock, Closing, Dispatch, Lot, Movement, PeriodCost, Posting, Reason
from inventory.shipments import dispatching
from studio.models import Studio
from tests.house import NOW, TODAY, day, grams, money, refused, snapshot

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("agreeing")]

TENTH = date(2026, 3, 10)
OPENED = datetime(2026, 3, 11, tzinfo=UTC)


@pytest.fixture
def run(books, shelf, version):
    """Ten candles poured and finished on the fifth, another run begun on the sixth; then the books are closed."""
    batch = books.plan(version, 10)
    draws = books.fill(shelf, batch, at=day(5))
    (made,) = books.finish(batch, 10, at=day(5, 17))
    begun = books.plan(version, 5)
    books.draw_into(begun, (shelf["wax"], "80 g"), at=day(6))
    books.close(TENTH)
    batch.draws_of, batch.made, batch.begun = draws, made, begun
    return batch


def test_minutes_of_a_closed_time_are_taken_back_on_the_first_day_after(books, shelf, version):
    batch = books.plan(version, 10)
    entry = runs.note_labour(
        batch,
        person_id=books.by.pk,
        step="pour",
        minutes=600,
        worked_on=date(2026, 3, 5),
        signature=books.sign(),
    )
    books.close(TENTH)

    back = runs.take_back_labour(entry.pk, signature=books.sign().because("Typed 600 for 60"))

    assert (back.worked_on, back.minutes) == (date(2026, 3, 11), -600)
    # What was closed still counts them.
    assert sum(batch.labour.filter(worked_on__lte=TENTH).values_list("minutes", flat=True)) == 600


def test_nothing_may_happen_before_the_closing_whoever_posts_it(books, shelf, version, run, sign):
    lot, early = shelf["wax"], {"at": day(10, 23)}
    delivery = lot.delivery_line.delivery
    other = books.plan(version, 5)
    scrap = {"kind": Reason.Kind.SCRAP, "signature": books.sign(day(10))}
    acts = {
        "a delivery": lambda: books.receive("dye", "1 kg", cost=1, **early),
        "a draw": lambda: books.draw(lot, "1 g", **early),
        "a draw of a batch": lambda: books.draw_into(other, (lot, "1 g"), **early),
        "a dispatch": lambda: books.send(run.made, 1, **early),
        "scrap": lambda: write_offs.take_out(lot.pk, 1, **scrap),
        "a find": lambda: write_offs.find(lot.pk, lot.on_hand + 1, signature=books.sign(day(10))),
        "putting right": lambda: write_offs.put_right(lot.pk, 1, signature=books.sign(day(10))),
        "a decanting": lambda: books.decant((lot, "1 g"), at=day(10)),
        "a late cost": lambda: late_costs.add_cost(
            delivery, amount=money(1), spread="value", reference="", signature=books.sign(day(10))
        ),
        "a revaluation": lambda: revalue([(lot, grams(10_000), money(1))], signature=books.sign(day(10))),
        "an end": lambda: books.finish(other, 5, at=day(10), without=True),
        "giving up": lambda: finishing.abandon(run.begun.pk, signature=books.sign(day(10), "Too cold")),
        "minutes worked": lambda: runs.note_labour(
            run, person_id=books.by.pk, step="pour", minutes=5, worked_on=TENTH, signature=sign()
        ),
    }
    for what, act in acts.items():
        before = snapshot(), Labour.objects.count(), BatchEnd.objects.count()
        with pytest.raises(BooksClosed, match="closed up to 10 Mar 2026"), transaction.atomic():
            act()
        assert (snapshot(), Labour.objects.count(), BatchEnd.objects.count()) == before, what


def test_the_first_moment_after_it_is_open(books, shelf, run):
    assert books.take_out(shelf["wax"], "1 g", at=OPENED).happened_at == OPENED


def test_tables_brought_in_are_told_the_day(books, studio, shelf, run):
    lots = "item;quantity;cost;arrived\nwax;1 kg;5.00;2026-03-10\n".replace(";", ",")
    moves = f"date,lot,what,quantity\n2026-03-10,{shelf['wax'].code},used,1 g\n"
    for table, text in (("lots", lots), ("movements", moves)):
        plan = look(books.keep_table(table, text), Studio.objects.get(), NOW)

        assert ["closed up to 10 Mar 2026" in problem.sentence for problem in plan.problems] == [True], table
        assert not plan.new


def test_what_is_reversed_stands_at_the_first_moment_after(books, shelf, run):
    receipt = books.receive("label", 10, cost=3, at=day(12)).delivery_line.delivery.posting
    scrapped = write_offs.take_out(
        shelf["vessel"].pk, 5, kind=Reason.Kind.SCRAP, signature=books.sign(day(12))
    )

    assert books.reverse(receipt).happened_at == day(12)
    assert books.reverse(scrapped).happened_at == day(12)
    early = shelf["fragrance"].delivery_line.delivery.posting
    books.undo(run)
    books.correct(run.draws_of["fragrance"])
    reversal = books.reverse(early)
    assert (reversal.happened_at, reversal.recorded_at) == (OPENED, NOW)
    assert books.of(shelf["fragrance"]) == (0, 0)


def test_a_draw_put_right_leaves_what_was_closed_as_it_was(books, shelf, run):
    # 1,000 g instead of 920 g of wax: 0.40 more, all of it on the ten candles that are here.
    before = list(closing.stock_before(OPENED))

    corrected = books.correct(run.draws_of["wax"], (shelf["wax"], "1000 g"))

    reversal = Posting.objects.get(reverses=run.draws_of["wax"])
    assert (reversal.happened_at, corrected.happened_at) == (OPENED, OPENED)
    correction = Posting.objects.get(kind=Posting.Kind.REVALUATION)
    assert correction.happened_at == OPENED
    assert books.of(run.made) == (10, money("29.20"))
    assert list(closing.stock_before(OPENED)) == before
    kept = dict(ClosedStock.objects.values_list("item__name", "value"))
    # 50.00 less 4.60 and 0.40 for the run that was begun; 40.00 less 3.20; 10.00 less 1.00; 100.00 less 20.00.
    assert kept == {
        "wax": money(45),
        "fragrance": money("36.80"),
        "wick": money(9),
        "vessel": money(80),
        "Cedar & Black Tea": money("28.80"),
    }


def test_a_batch_opened_again_was_over_until_the_first_moment_after(books, shelf, run):
    books.undo(run)

    ends = list(BatchEnd.objects.filter(batch=run).order_by("pk").values_list("sign", "happened_at"))
    assert ends == [(1, day(5, 17)), (-1, OPENED)]
    (made,) = books.finish(run, 9, at=day(12))
    assert books.of(made) == (9, money("28.80"))


def test_a_count_taken_before_and_posted_after_is_dated_after(books, shelf, run):
    count = books.start_count(items=["wick"])
    books.look(count, (shelf["wick"], 88), at=day(10))

    posted = books.post_count(count)

    assert posted.posting.happened_at == OPENED
    assert books.of(shelf["wick"])[0] == 88


def test_what_a_tablet_sends_late_happens_when_it_arrives(books, shelf, version, run):
    batch = books.plan(version, 5)

    entry = books.bench(batch, "draw", lot=shelf["wax"], quantity="460 g", at=day(9))

    assert entry.posting.happened_at == NOW


def test_a_part_finished_before_is_settled_by_the_last_part_after(books, shelf, version):
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(5))
    (first,) = books.finish(batch, 5, at=day(6), last=False)
    books.close(TENTH)

    books.finish(batch, 3, at=day(12))

    # 28.80 over eight rather than ten: 3.60 each, so the first five bear 3.60 more, from the twelfth on.
    assert books.of(first) == (5, money(18))
    (correction,) = Posting.objects.filter(kind=Posting.Kind.REVALUATION)
    assert correction.happened_at == day(12)


def test_closing_goes_forward_only_and_never_into_a_day_that_is_not_over(books, shelf, sign):
    books.close(TENTH)
    for through, match in (
        (TENTH, "closed through 10 Mar 2026 already"),
        (date(2026, 3, 9), "already"),
        (TODAY, "not over yet"),
        (date(2026, 3, 25), "not over yet"),
    ):
        with refused(CannotClose, match=match):
            books.close(through)
    with refused(CannotClose, match="why"):
        books.close(date(2026, 3, 12), reason="")
    assert books.close(date(2026, 3, 19)).until == datetime(2026, 3, 20, tzinfo=UTC)


def rows():
    """Raw writes into a closed past, each with its table."""
    moment = "2026-03-10 12:00:00" if connection.vendor == "sqlite" else "2026-03-10 12:00:00+00"
    by = Posting.objects.first().by_id
    old = Posting.objects.filter(happened_at__lt=OPENED).order_by("pk").first()
    batch = BatchEnd.objects.first().batch_id
    yield (
        "INSERT INTO inventory_posting (kind, happened_at, recorded_at, by_id, reason) VALUES (%s, %s, %s, %s, '')",
        ("scrap", moment, moment, by),
    )
    yield (
        "INSERT INTO inventory_movement (posting_id, lot_id, kind, quantity, value) VALUES (%s, %s, 'found', 1, 0)",
        (old.pk, Lot.objects.first().pk),
    )
    yield (
        "INSERT INTO inventory_periodcost (posting_id, lot_id, value) VALUES (%s, %s, 5)",
        (old.pk, Lot.objects.first().pk),
    )
    yield (
        "INSERT INTO batches_batchend (batch_id, sign, happened_at, recorded_at, by_id) VALUES (%s, -1, %s, %s, %s)",
        (batch, moment, moment, by),
    )


def test_the_database_keeps_the_closed_past_whoever_writes(run):
    for sql, params in rows():
        before = snapshot()
        with (
            pytest.raises(DatabaseError, match="closed there"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(sql, params)
        assert snapshot() == before
    closed = Closing.objects.get()
    with pytest.raises(DatabaseError, match="closed further"), transaction.atomic():
        Closing.objects.create(
            through=date(2026, 3, 5), until=day(6), reason="back", by=closed.by, at=closed.at
        )
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        Closing.objects.update(until=day(2))
    with pytest.raises(DatabaseError, match="never deleted"), transaction.atomic():
        ClosedStock.objects.all().delete()


def test_check_books_finds_a_figure_that_no_longer_comes_out(books, shelf):
    closed = books.close(TENTH)
    said = list(stock_checks.closed_books_stand())

    with transaction.atomic():
        ClosedStock.objects.create(closing=closed, item=books.item("dye"), quantity=1, value=1)
        (sentence,) = stock_checks.closed_books_stand()
        transaction.set_rollback(True)

    assert said == []
    assert "closed through 2026-03-10; what there was of dye" in sentence


def test_a_late_cost_of_an_old_delivery_comes_after_the_closing(books, shelf, run):
    delivery = shelf["vessel"].delivery_line.delivery
    late = late_costs.add_cost(
        delivery, amount=money(10), spread="value", reference="", signature=books.sign(day(12))
    )

    # 40 of 50 vessels are here; the ten that were used bear theirs as a cost of the period.
    assert books.of(shelf["vessel"]) == (40, money(88))
    assert [cost.value for cost in PeriodCost.objects.all()] == [money(2)]
    assert Movement.objects.get(posting=late.posting).value == money(8)
    assert books.reverse(late.posting).happened_at == day(12)


def test_what_left_while_the_books_were_open_stays_what_it_was(books, run, shelf, version):
    # A sale made a gift would leave the cost of what was sold; to whom it went may still be put right.
    batch = books.plan(version, 10)
    books.fill(shelf, batch, at=day(11))
    (late,) = books.finish(batch, 10, at=day(11, 17))
    dispatch = books.send(late, 2, at=day(12)).dispatch
    said = {"to": Contact("Ida Fennimore"), "channel": "", "reference": "", "signature": books.sign()}
    dispatching.write_head(dispatch.pk, kind=Dispatch.Kind.GIFT, **said)
    books.close(date(2026, 3, 15))

    with refused(BookError, "closed up to 15 Mar 2026. What left before stays"):
        dispatching.write_head(dispatch.pk, kind=Dispatch.Kind.SALE, **said)

    said["reference"] = "HS-40"
    dispatching.write_head(dispatch.pk, kind=Dispatch.Kind.GIFT, **said)
    dispatch.refresh_from_db()
    assert (dispatch.kind, dispatch.reference) == ("gift", "HS-40")
