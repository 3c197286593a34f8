"""What a batch cost from its draws, its minutes at their dated rates, and overhead by its dated rule."""

from datetime import date

import pytest
from django.db import DatabaseError, connection, transaction
from django.db.models import prefetch_related_objects
from django.test.utils import CaptureQueriesContext

from batches.models import Batch
from batches.production import runs
from costing.actual.batch_cost import COST_READS, HEAD_OF, cost_of, costs_of
from costing.model.job_cost import HEADS
from costing.models import LabourRate, OverheadRate
from costing.rates.rates import Rates, set_labour_rate, set_overhead_rate
from inventory.ledger.closing import close as close_books
from inventory.models import Kind
from tests.house import NOW, TODAY, day, grams, money

pytestmark = pytest.mark.django_db

SPRING, MARCH, MIDMONTH = date(2026, 1, 1), date(2026, 3, 1), date(2026, 3, 15)


def per_hour(books, amount, on, person=None):
    return set_labour_rate(from_on=on, person=person, per_hour=money(amount), by=books.by, now=NOW)


def overhead(books, basis, amount, on=SPRING):
    return set_overhead_rate(from_on=on, basis=basis, amount=amount, by=books.by, now=NOW)


def work(books, batch, minutes, on=TODAY, person=None):
    runs.note_labour(
        batch,
        person_id=(person or books.by).pk,
        step="pour",
        minutes=minutes,
        worked_on=on,
        signature=books.sign(),
    )


@pytest.fixture
def batch(books):
    """Ten candles: wax 4.60, fragrance 3.20, wicks 1.00, vessels 20.00; drawn and not finished."""
    batch = books.plan(books.candle(), 10, on=MIDMONTH)
    for name, arrives, cost, quantity in (
        ("wax", "10 kg", 50, "920 g"),
        ("fragrance", "1 kg", 40, "80 g"),
        ("wick", 100, 10, 10),
        ("vessel", 50, 100, 10),
    ):
        books.draw_into(batch, (books.receive(name, arrives, cost=cost), quantity))
    return batch


def cost(batch):
    return cost_of(Batch.objects.get(pk=batch.pk), Rates.read())


def heads(batch):
    return {head: value for head, value in cost(batch).job.heads.items() if value}


def test_a_published_job_card_comes_out_of_the_books(books):
    # OpenStax, Principles of Accounting Vol. 2, 4.5, read: materials 300 + 2×50 + 60 + 60 + 12×10 + 40×1.50
    # = 700, labour 66, overhead 2.50 for each dollar of labour = 165, total 931. Exact. What the materials
    # are is ours, and so are the hours behind the 66.
    one = books.formula(
        "Bowl",
        [
            ("wax", "wax_share", 1_000_000),
            ("fragrance", "of_melt", 10_000),
            ("dye", "of_melt", 10_000),
            ("vessel", "per_unit", 2),
            ("lid", "per_unit", 12),
            ("label", "per_unit", 40),
        ],
        fill="1 kg",
    )
    batch = books.plan(one, 1)
    for name, arrives, price, quantity in (
        ("wax", "2 kg", 600, "1 kg"),
        ("vessel", 6, 300, 2),
        ("fragrance", "10 g", 60, "10 g"),
        ("dye", "20 g", 120, "10 g"),
        ("lid", 30, 300, 12),
        ("label", 100, 150, 40),
    ):
        books.draw_into(batch, (books.receive(name, arrives, cost=price), quantity))
    work(books, batch, 180)
    books.finish(batch, 1)
    per_hour(books, 22, SPRING)
    overhead(books, "of_labour", 2_500_000)

    assert heads(batch) == {
        "wax": money(300),
        "fragrance": money(60),
        "colour_additives": money(60),
        "vessel_lid": money(220),
        "label_packaging": money(60),
        "labour": money(66),
        "overhead": money(165),
    }
    assert (cost(batch).material, cost(batch).job.total) == (money(700), money(931))
    assert cost(batch).job.per_good_unit == money(931)
    assert cost(batch).missing == ()


def test_minutes_taken_back_cost_nothing_whatever_the_rate_is_by_then(books, batch):
    """90 minutes at 20.00 an hour less the 60 that were a slip: 10.00, and overhead of half of it, however late the slip
    is put right."""
    per_hour(books, 20, SPRING)
    per_hour(books, 26, TODAY)
    overhead(books, "of_labour", 500_000)
    work(books, batch, 30, on=MARCH)
    work(books, batch, 60, on=MARCH)
    wrong = batch.labour.get(minutes=60)
    close_books(MIDMONTH, signature=books.sign(reason="Half of March"))

    back = runs.take_back_labour(wrong.pk, signature=books.sign(reason="Typed 60 for 6"))

    assert back.worked_on > MIDMONTH
    # It counts from a day on which an hour costs more, and yet takes back what the slip cost.
    LabourRate.objects.create(
        from_on=back.worked_on, person=None, per_hour=money(26), set_by=books.by, set_at=NOW
    )
    found = heads(batch)
    assert (found["labour"], found["overhead"]) == (money(10), money(5))
    assert cost(batch).minutes == 30
    assert cost(batch).owner_labour == money(10)


def test_a_batch_whose_minutes_were_all_taken_back_says_that_none_were_noted(books, batch):
    work(books, batch, 60)
    assert "60 minutes cost nothing" in " ".join(cost(batch).missing)

    runs.take_back_labour(batch.labour.get().pk, signature=books.sign(reason="Another batch"))

    assert "No labour was noted, so none is counted." in cost(batch).missing
    assert "60 minutes" not in " ".join(cost(batch).missing)
    assert "labour" not in heads(batch)


def test_every_kind_of_item_has_its_cost_head():
    assert set(HEAD_OF) == set(Kind)
    assert set(HEAD_OF.values()) <= set(HEADS)


def test_material_is_what_was_drawn_and_reversed_draws_do_not_count(books, batch):
    assert heads(batch) == {
        "wax": money("4.60"),
        "fragrance": money("3.20"),
        "wick": money(1),
        "vessel_lid": money(20),
    }

    wrong = batch.draws.get(line__item__name="wick").movement
    books.correct(wrong.posting, (wrong.lot, 12))

    assert heads(batch)["wick"] == money("1.20")


def test_the_cost_is_over_good_units_and_lost_ones_are_shown_apart(books, batch):
    # 28.80 over 8 good is 3.60; two of ten took 5.76.
    books.finish(batch, 8, 1, {"Sinkhole": 1})

    told = cost(batch)
    assert (told.good, told.job.per_good_unit, told.job.lost_units_cost) == (8, money("3.60"), money("5.76"))


def test_an_undone_finish_does_not_count(books, batch):
    books.finish(batch, 8, 1, {"Sinkhole": 1})
    books.undo(batch)

    assert (cost(batch).good, cost(batch).job.per_good_unit) == (0, None)

    books.finish(batch, 9, scrap={"Sinkhole": 1})
    assert (cost(batch).good, cost(batch).job.per_good_unit) == (9, money("3.20"))


def test_minutes_cost_what_held_on_the_day_they_were_worked(books, batch):
    # 20.00 an hour, 26.00 from the 15th: 30 minutes on the 14th and 30 on the 15th are 10.00 and 13.00.
    per_hour(books, 20, SPRING)
    per_hour(books, 26, MIDMONTH)
    work(books, batch, 30, date(2026, 3, 14))
    work(books, batch, 30, MIDMONTH)

    assert (heads(batch)["labour"], cost(batch).minutes) == (money(23), 60)


def test_a_later_rate_never_rewrites_the_past(books, batch):
    per_hour(books, 20, SPRING)
    work(books, batch, 60, MARCH)
    before = heads(batch)

    per_hour(books, 99, MIDMONTH)

    assert heads(batch) == before


def test_the_rate_set_last_for_a_day_counts(books, batch):
    per_hour(books, 20, MARCH)
    per_hour(books, 21, MARCH)
    work(books, batch, 60, MARCH)

    assert heads(batch)["labour"] == money(21)


def test_a_person_s_own_rate_goes_before_the_rate_for_everybody(books, batch, maker):
    per_hour(books, 20, SPRING)
    per_hour(books, 30, MARCH, maker)
    per_hour(books, 21, MIDMONTH)
    work(books, batch, 60, TODAY, maker)
    work(books, batch, 60, TODAY)

    assert heads(batch)["labour"] == money(51)
    # Before their own rate began, theirs was everybody's.
    assert Rates.read().per_hour(maker.pk, date(2026, 2, 28)) == money(20)


@pytest.mark.parametrize(
    ("basis", "amount", "expected"),
    [
        ("per_labour_hour", 12_500_000, "18.75"),  # 1.5 hours at 12.50
        ("per_batch", 4_250_000, "4.25"),
        ("per_unit", 150_000, "1.50"),  # ten poured, whatever became of them
        ("of_labour", 500_000, "15"),  # half of 30.00
    ],
)
def test_overhead_follows_its_rule(books, batch, basis, amount, expected):
    per_hour(books, 20, SPRING)
    work(books, batch, 90)
    books.finish(batch, 8, 1, {"Sinkhole": 1})
    overhead(books, basis, amount)

    assert heads(batch)["overhead"] == money(expected)


def test_the_overhead_rule_is_that_of_the_day_the_batch_was_finished(books, batch):
    overhead(books, "per_batch", money(4), MARCH)
    overhead(books, "per_batch", money(7), TODAY)

    assert heads(batch)["overhead"] == money(4)  # planned for the 15th and still open
    books.finish(batch, 10)
    assert heads(batch)["overhead"] == money(7)


def test_the_day_of_the_finish_is_the_day_on_the_studio_s_clock(books, batch, settings):
    # Noon UTC on the 20th is the 21st, one o'clock in the morning, thirteen hours east.
    settings.TIME_ZONE = "Pacific/Auckland"
    overhead(books, "per_batch", money(4), SPRING)
    overhead(books, "per_batch", money(7), date(2026, 3, 21))
    books.finish(batch, 10)

    assert heads(batch)["overhead"] == money(7)


def test_what_is_missing_is_said_and_costs_nothing(books, batch):
    assert cost(batch).missing == (
        "No overhead rate holds on 15 Mar 2026, so none is counted.",
        "No labour was noted, so none is counted.",
    )

    work(books, batch, 45, day(12).date())
    per_hour(books, 20, date(2026, 3, 13))
    overhead(books, "per_batch", money(4))

    assert cost(batch).missing == ("No labour rate holds on 12 Mar 2026, so 45 minutes cost nothing.",)
    assert "labour" not in heads(batch)


def test_minutes_without_a_rate_still_bear_overhead_by_the_hour(books, batch):
    work(books, batch, 30)
    overhead(books, "per_labour_hour", money(10))

    assert heads(batch)["overhead"] == money(5)


def test_a_blend_costs_per_base_unit(books):
    # 2 kg made of wax worth 10.00: 5.00 a kilogram, 0.005 millionths per microgram.
    wax = books.receive("wax", "10 kg", cost=50)
    blend = books.plan(books.formula("blend", [("wax", "wax_share", 1_000_000)]), grams(2_000))
    books.draw_into(blend, (wax, "2 kg"))
    books.finish(blend, grams(2_000))

    assert cost(blend).job.per_good_unit * grams(1_000) == money(5)


def test_many_batches_are_costed_in_as_many_queries_as_one(books, batch, django_assert_num_queries):
    work(books, batch, 30)
    books.finish(batch, 10)

    def cost_all():
        found = list(Batch.objects.with_product())
        prefetch_related_objects(found, *COST_READS)
        rates = Rates.read()
        return [cost.job.total for cost in costs_of(found, rates)]

    with CaptureQueriesContext(connection) as alone:
        assert cost_all() == [money("28.80")]
    for _ in range(2):
        other = books.plan(batch.version, 10)
        wicks = books.receive("wick", 10, cost=1)
        books.draw_into(other, (wicks, 10))
        work(books, other, 30)
        books.finish(other, 10, without=True)
    with django_assert_num_queries(len(alone)):
        assert sorted(cost_all()) == [money(1), money(1), money("28.80")]


@pytest.mark.parametrize("model", [LabourRate, OverheadRate])
def test_rates_are_never_rewritten(books, model):
    per_hour(books, 20, SPRING)
    overhead(books, "per_batch", money(4))
    row = model.objects.get()

    for attempt in (
        lambda: model.objects.update(from_on=MARCH),
        lambda: model.objects.filter(pk=row.pk)._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError, match="never"), transaction.atomic():
            attempt()


@pytest.mark.parametrize("amount", [-1, -money(20)])
def test_a_rate_below_zero_is_refused(books, amount):
    with pytest.raises(DatabaseError, match="labour_rate_not_negative"), transaction.atomic():
        set_labour_rate(from_on=MARCH, person=None, per_hour=amount, by=books.by, now=NOW)
    with pytest.raises(DatabaseError, match="overhead_rate_not_negative"), transaction.atomic():
        overhead(books, "per_batch", amount)
