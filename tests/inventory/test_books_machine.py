"""The books as a machine: whatever people do, in any order, every quantity and every value is accounted for.

Conservation is worked out from the movements alone, by a sum of this file's own, after every step. A refusal is
right when it leaves everything as it was.
"""

from fractions import Fraction

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, invariant, multiple, rule, run_state_machine_as_test

from batches import checks as batch_checks
from batches.models import Batch, Draw, Outcome
from batches.runs import BatchError
from inventory import checks
from inventory.books import BookError
from inventory.models import Lot, Movement, PeriodCost, Posting
from studio.models import Role, User
from tests.house import Books, day, snapshot

QUANTITY = st.one_of(st.integers(1, 40), st.integers(1, 10**13))
VALUE = st.one_of(st.integers(0, 40), st.integers(0, 10**14))
WHEN = st.one_of(st.just(day(20)), st.integers(10, 20).map(day))
PART = st.fractions(0, Fraction(5, 4), max_denominator=12)


class BooksMachine(RuleBasedStateMachine):
    """Wax arrives, becomes a blend, the blend with wicks becomes candles, and candles leave."""

    lots = Bundle("lots")
    batches = Bundle("batches")
    draws = Bundle("draws")
    others = Bundle("others")

    def __init__(self):
        super().__init__()
        self.around = transaction.atomic()
        self.around.__enter__()
        self.books = Books(User.objects.create(username="maren", role=Role.OWNER))
        self.blend = self.books.formula("blend", [("wax", "wax_share", 1_000_000)], division_ug=1)
        self.candle = self.books.formula(
            "candle", [("blend", "wax_share", 1_000_000), ("wick", "per_unit", 1)], fill="1 g", division_ug=1
        )

    def teardown(self):
        try:
            problems = [
                sentence
                for check in (*checks.CHECKS, *batch_checks.CHECKS)
                if check is not checks.guards_in_place
                for sentence in check()
            ]
            assert problems == []
        finally:
            transaction.set_rollback(True)
            self.around.__exit__(None, None, None)

    def attempt(self, act):
        """What `act` gives back, or None when it was refused and left no trace."""
        before = snapshot()
        try:
            with transaction.atomic():
                return act()
        except (BookError, BatchError):
            assert snapshot() == before
            return None

    @rule(target=lots, name=st.sampled_from(["wax", "wick"]), quantity=QUANTITY, value=VALUE)
    def receive(self, name, quantity, value):
        return self.books.receive(name, quantity, cost=Fraction(value, 10**6), at=day(1))

    @rule(target=batches, blend=st.booleans(), quantity=st.integers(1, 60))
    def plan(self, blend, quantity):
        return self.books.plan(self.blend if blend else self.candle, quantity)

    def amount(self, lot, part):
        lot.refresh_from_db()
        return max(int(lot.on_hand * part), 1)

    @rule(target=draws, batch=batches, lot=lots, part=PART, found=st.booleans(), at=WHEN)
    def draw(self, batch, lot, part, found, at):
        line = batch.version.lines.filter(item=lot.item).first()
        if line is None:
            return multiple()
        pairs = (lot, self.amount(lot, part))
        made = self.attempt(lambda: self.books.draw_into(batch, pairs, found=found, at=at))
        return made or multiple()

    @rule(target=draws, posting=draws, lot=lots, part=PART, found=st.booleans(), nothing=st.booleans())
    def correct(self, posting, lot, part, found, nothing):
        pairs = [] if nothing else [(lot, self.amount(lot, part))]
        made = self.attempt(lambda: self.books.correct(posting, *pairs, found=found))
        return made or multiple()

    @rule(target=lots, batch=batches, good=st.integers(0, 50), seconds=st.integers(0, 5), scrap=st.integers(0, 5))
    def finish(self, batch, good, seconds, scrap):
        made = self.attempt(
            lambda: self.books.finish(batch, good, seconds, {"Sinkhole": scrap}, without=True, at=day(20))
        )
        return multiple(*made or [])

    @rule(batch=batches)
    def undo(self, batch):
        self.attempt(lambda: self.books.undo(batch))

    @rule(target=others, lot=lots, part=PART, at=WHEN)
    def send(self, lot, part, at):
        return self.attempt(lambda: self.books.send(lot, self.amount(lot, part), at=at)) or multiple()

    @rule(posting=others)
    def take_back(self, posting):
        self.attempt(lambda: self.books.reverse(posting))

    @rule(lot=lots)
    def reverse_arrival(self, lot):
        receipt = Posting.objects.filter(movements__lot=lot, kind="receipt").first()
        if receipt:
            self.attempt(lambda: self.books.reverse(receipt))

    @invariant()
    def quantities_are_conserved(self):
        came_and_went = {}
        for lot_id, quantity, value in Movement.objects.values_list("lot_id", "quantity", "value"):
            moved, worth = came_and_went.get(lot_id, (0, 0))
            came_and_went[lot_id] = (moved + quantity, worth + value)
        for lot in Lot.objects.all():
            assert (lot.on_hand, lot.value) == came_and_went[lot.pk]
            assert lot.on_hand > 0 or (lot.on_hand, lot.value) == (0, 0)
            assert lot.value >= 0

    @invariant()
    def every_millionth_is_somewhere(self):
        """Paid = on the shelf + sent out + in open batches + lost with scrap + costs of the period."""
        by_kind = dict.fromkeys(Movement.Kind.values, 0)
        for kind, value in Movement.objects.values_list("kind", "value"):
            by_kind[kind] += value
        into = {batch.pk: 0 for batch in Batch.objects.all()}
        for batch_id, value in Draw.objects.values_list("batch", "movement__value").filter(
            movement__posting__reversal=None
        ):
            into[batch_id] -= value
        passing_on = set(
            Outcome.objects.filter(posting__reversal=None).exclude(lot=None).values_list("batch", flat=True)
        )
        kept = sum(value for batch_id, value in into.items() if batch_id not in passing_on)
        passed_on = sum(value for batch_id, value in into.items() if batch_id in passing_on)
        shelf = sum(Lot.objects.values_list("value", flat=True))
        period = sum(PeriodCost.objects.values_list("value", flat=True))

        assert by_kind["received"] == shelf - by_kind["dispatched"] + kept + period
        assert by_kind["made"] + by_kind["revalued"] + period == passed_on
        assert by_kind["found"] == 0


@pytest.mark.django_db
def test_nothing_is_ever_lost_or_made_up():
    run_state_machine_as_test(
        BooksMachine,
        settings=settings(
            max_examples=25, stateful_step_count=25, deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
