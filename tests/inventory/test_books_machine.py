"""The books as a machine: whatever people do, in any order, every quantity and every value is accounted for.

Conservation is worked out from the movements alone, by a sum of this file's own, after every step. A refusal
is right when it leaves everything as it was.
"""

from fractions import Fraction
from functools import partial

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from batches import checks as batch_checks
from batches.models import Batch, Draw, Outcome
from batches.runs import BatchError
from inventory import checks, taking_out
from inventory.books import BookError
from inventory.models import Lot, Movement, PeriodCost, Posting
from studio.models import Role, User
from tests.house import Books, day, snapshot

QUANTITY = st.one_of(st.integers(1, 40), st.integers(1, 10**13))
VALUE = st.one_of(st.integers(0, 40), st.integers(0, 10**14))
# Blends and candles are there from the 10th on; most of what is done with them is done afterwards.
WHEN = st.one_of(st.integers(11, 20), st.integers(5, 20)).map(day)
PART = st.sampled_from([Fraction(n, 12) for n in (1, 3, 4, 6, 7, 11, 12, 12, 13)])
ANY = st.integers(0, 10**6)


def one(rows, number):
    """One of the rows, or None where there is none."""
    found = list(rows.order_by("pk"))
    return found[number % len(found)] if found else None


class BooksMachine(RuleBasedStateMachine):
    """Wax becomes a blend, some is blended again, with wicks it becomes candles, and candles leave."""

    def __init__(self):
        super().__init__()
        self.around = transaction.atomic()
        self.around.__enter__()
        self.books = Books(User.objects.create(username="maren", role=Role.OWNER))
        lines = [("wax", "wax_share", 1_000_000)]
        blend = self.books.formula("blend", lines, division_ug=1)
        lines = [("wax", "wax_share", 500_000), ("blend", "wax_share", 500_000)]
        rework = self.books.formula("blend", lines, division_ug=1, name="rework")
        lines = [("blend", "wax_share", 1_000_000), ("wick", "per_unit", 1)]
        candle = self.books.formula("candle", lines, fill="1 g", division_ug=1)
        self.versions = [blend, rework, candle]
        for name in ("wax", "wick"):
            self.books.receive(name, 37, cost=Fraction(100, 10**6), at=day(1))

    def teardown(self):
        try:
            every = (*checks.CHECKS, *batch_checks.CHECKS)
            problems = [said for check in every if check is not checks.guards_in_place for said in check()]
            assert problems == []
        finally:
            transaction.set_rollback(True)
            self.around.__exit__(None, None, None)

    def attempt(self, act):
        """Do it, or be refused and leave no trace."""
        before = snapshot()
        try:
            with transaction.atomic():
                act()
        except (BookError, BatchError):
            assert snapshot() == before

    def some(self, lots, number, part):
        """A lot with something in it and a part of that, now and then more than all; or nothing at all."""
        lot = one(lots.filter(on_hand__gt=0), number)
        return [(lot, max(int(lot.on_hand * part), 1))] if lot else []

    @rule(name=st.sampled_from(["wax", "wick"]), quantity=QUANTITY, value=VALUE)
    def receive(self, name, quantity, value):
        self.books.receive(name, quantity, cost=Fraction(value, 10**6), at=day(1))

    @rule(version=ANY, quantity=st.integers(2, 60), number=ANY, part=PART, found=st.booleans())
    def plan_and_start(self, version, quantity, number, part, found):
        batch = self.books.plan(self.versions[version % 3], quantity)
        for line in batch.version.lines.all():
            pairs = self.some(Lot.objects.filter(item=line.item), number, part)
            if pairs:
                draw = partial(self.books.draw_into, batch, *pairs, found=found, at=day(10))
                self.attempt(draw)

    @rule(batch=ANY, line=ANY, number=ANY, part=PART, found=st.booleans(), at=WHEN)
    def draw(self, batch, line, number, part, found, at):
        batch = one(Batch.objects.unfinished(), batch)
        line = batch and one(batch.version.lines, line)
        pairs = line and self.some(Lot.objects.filter(item=line.item), number, part)
        if pairs:
            self.attempt(lambda: self.books.draw_into(batch, *pairs, found=found, at=at))

    @rule(which=ANY, number=ANY, part=PART, found=st.booleans(), nothing=st.booleans())
    def correct(self, which, number, part, found, nothing):
        draw = one(Draw.objects.standing(), which)
        if draw:
            pairs = [] if nothing else self.some(Lot.objects.filter(item=draw.line.item), number, part)
            self.attempt(lambda: self.books.correct(draw.movement.posting, *pairs, found=found))

    @rule(batch=ANY, good=st.integers(0, 50), seconds=st.integers(0, 5), scrap=st.integers(0, 5), at=WHEN)
    def finish(self, batch, good, seconds, scrap, at):
        batch = one(Batch.objects.filter(state="started"), batch)
        if batch:
            defects = {"Sinkhole": scrap}
            self.attempt(lambda: self.books.finish(batch, good, seconds, defects, without=True, at=at))

    @rule(batch=ANY)
    def undo(self, batch):
        batch = one(Batch.objects.filter(state="finished"), batch)
        if batch:
            self.attempt(lambda: self.books.undo(batch))

    @rule(number=ANY, part=PART, at=WHEN, made=st.booleans())
    def send(self, number, part, at, made):
        lots = Lot.objects.exclude(outcome=None) if made else Lot.objects.all()
        for lot, quantity in self.some(lots, number, part):
            self.attempt(partial(self.books.send, lot, quantity, at=at))

    @rule(number=ANY, part=PART, jars=st.integers(1, 4), emptied=st.booleans(), found=st.booleans(), at=WHEN)
    def decant(self, number, part, jars, emptied, found, at):
        for lot, quantity in self.some(Lot.objects.all(), number, part):
            filled = [quantity // jars] * (jars - 1)
            filled.append(quantity - sum(filled))
            jars_of = [jar for jar in filled if jar]
            pour = partial(
                self.books.decant, (lot, quantity), jars=jars_of, emptied=emptied, found=found, at=at
            )
            self.attempt(pour)

    @rule(one_lot=ANY, other=ANY, part=PART, other_part=PART, emptied=st.booleans(), at=WHEN)
    def mix(self, one_lot, other, part, other_part, emptied, at):
        first = self.some(Lot.objects.all(), one_lot, part)
        if first:
            same = Lot.objects.filter(item=first[0][0].item).exclude(pk=first[0][0].pk)
            pairs = first + self.some(same, other, other_part)
            self.attempt(partial(self.books.decant, *pairs, emptied=emptied, at=at))

    @rule(number=ANY, part=PART, kind=st.sampled_from(["scrap", "sample", "sent_back"]), at=WHEN)
    def take_out(self, number, part, kind, at):
        for lot, quantity in self.some(Lot.objects.all(), number, part):
            self.attempt(partial(self.books.take_out, lot, quantity, kind, at=at))

    @rule(number=ANY, on_hand=QUANTITY, found=st.booleans())
    def put_right(self, number, on_hand, found):
        lot = one(Lot.objects.all(), number)
        verb = taking_out.find if found else taking_out.put_right
        if lot:
            self.attempt(partial(verb, lot.pk, on_hand, signature=self.books.sign()))

    @rule(
        which=ANY,
        kind=st.sampled_from(
            ["dispatch", "receipt", "decant", "scrap", "sample", "sent_back", "found", "correction"]
        ),
    )
    def take_back(self, which, kind):
        posting = one(Posting.objects.standing().filter(kind=kind), which)
        if posting:
            self.attempt(lambda: self.books.reverse(posting))

    @invariant()
    def balances_are_the_sums_of_movements(self):
        moved = {}
        for lot_id, quantity, value in Movement.objects.values_list("lot_id", "quantity", "value"):
            before = moved.get(lot_id, (0, 0))
            moved[lot_id] = (before[0] + quantity, before[1] + value)
        for lot_id, on_hand, value in Lot.objects.values_list("pk", "on_hand", "value"):
            assert (on_hand, value) == moved[lot_id]
            assert min(on_hand, value) >= 0
            assert on_hand or not value

    @invariant()
    def every_millionth_is_somewhere(self):
        """Paid = on the shelf + sent or taken out + in batches that made no lot + costs of the period."""
        by_kind = dict.fromkeys(Movement.Kind.values, 0)
        for kind, value in Movement.objects.values_list("kind", "value"):
            by_kind[kind] += value
        outcomes = Outcome.objects.filter(posting__reversal=None).exclude(lot=None)
        made = set(outcomes.values_list("batch", flat=True))
        kept = passed_on = 0
        standing = Draw.objects.filter(movement__posting__reversal=None)
        for batch_id, value in standing.values_list("batch", "movement__value"):
            if batch_id in made:
                passed_on -= value
            else:
                kept -= value
        shelf = sum(Lot.objects.values_list("value", flat=True))
        period = sum(PeriodCost.objects.values_list("value", flat=True))

        left = sum(by_kind[kind] for kind in ("dispatched", "scrapped", "sampled", "sent_back"))
        assert by_kind["received"] == shelf - left + kept + period
        assert by_kind["decanted"] == by_kind["corrected"] == 0
        assert by_kind["made"] + by_kind["revalued"] + period == passed_on
        assert by_kind["found"] == 0


@pytest.mark.django_db
def test_nothing_is_ever_lost_or_made_up():
    quick = settings(
        max_examples=30, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
    )
    run_state_machine_as_test(BooksMachine, settings=quick)
