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
from batches.planning.plans import BatchError
from batches.production import finishing
from inventory import checks
from inventory.counting import counting
from inventory.counting.counting import CannotCount
from inventory.deliveries import late_costs
from inventory.deliveries.receiving import CannotSpread
from inventory.ledger import bulk_books
from inventory.ledger.books import BookError
from inventory.lots import holding, write_offs
from inventory.models import Delivery, Import, ImportedRow, LateCost, Lot, Movement, PeriodCost, Posting
from studio.models import Role, User
from tests.house import TODAY, Books, day, snapshot

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
        self.melt = self.books.item("melt", kind="wax", made_here=True)
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
        except (BookError, BatchError, CannotSpread, CannotCount, holding.AlreadySo, holding.CannotAllow):
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

    @rule(
        batch=ANY,
        good=st.integers(0, 50),
        seconds=st.integers(0, 5),
        scrap=st.integers(0, 5),
        retained=st.sampled_from([0, 0, 1]),
        melt=st.sampled_from([0, 0, 1, 3]),
        last=st.sampled_from([True, True, False]),
        at=WHEN,
    )
    def finish(self, batch, good, seconds, scrap, retained, melt, last, at):
        batch = one(Batch.objects.filter(state="started"), batch)
        if batch:
            more = {
                "retained": retained,
                "recovered": [finishing.Recovered(self.melt, melt)],
                "rework": scrap,
            }
            finish = partial(self.books.finish, batch, good, seconds, {"Sinkhole": scrap}, without=True)
            self.attempt(lambda: finish(at=at, last=last, **more))

    @rule(batch=ANY, melt=st.sampled_from([0, 2]))
    def give_up(self, batch, melt):
        if batch := one(Batch.objects.filter(state="started"), batch):
            recovered = [finishing.Recovered(self.melt, melt)]
            signature = self.books.sign(reason="scorched")
            self.attempt(partial(finishing.abandon, batch.pk, recovered, signature=signature))

    @rule(batch=ANY)
    def undo(self, batch):
        batch = one(Batch.objects.exclude(state__in=["planned", "called_off"]), batch)
        if batch:
            self.attempt(lambda: self.books.undo(batch))

    @rule(batch=ANY, good=st.integers(1, 50))
    def count_again(self, batch, good):
        """A finished batch is opened and its last good count entered anew: it stays in the lot it had."""
        batch = one(Batch.objects.filter(state="finished"), batch)
        line = batch and batch.outcomes.standing().order_by("-pk").first()
        if line and line.result == "good":

            def act():
                self.books.undo(batch)
                (lot,) = self.books.finish(batch, good, at=line.posting.happened_at, without=True)
                assert lot.pk == line.lot_id

            self.attempt(act)

    @invariant()
    def every_code_leads_somewhere(self):
        assert list(checks.codes_lead_somewhere()) == []

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
        verb = write_offs.find if found else write_offs.put_right
        if lot:
            self.attempt(partial(verb, lot.pk, on_hand, signature=self.books.sign()))

    @rule(number=ANY, part=PART, at=WHEN, twice=st.booleans())
    def count(self, number, part, at, twice):
        """A lot is counted, now and then twice, and the difference posted; what cannot be is called off."""
        lot = one(Lot.objects.all(), number)
        if lot is None:
            return

        def act():
            count = self.books.start_count("item", str(lot.item), items=[lot.item.name])
            if not count.lines.filter(lot=lot).exists():
                counting.add_lot(count.pk, lot.pk, signature=self.books.sign())
            for _ in range(1 + twice):
                self.books.look(count, (lot, int(lot.on_hand * part)), at=at)
            self.books.post_count(count)

        self.attempt(act)

    @rule(number=ANY, part=PART, at=WHEN, kind=st.sampled_from(["drawn", "scrapped", "found"]))
    def earlier(self, number, part, at, kind):
        """Something from an old notebook, written afterwards."""
        for lot, quantity in self.some(Lot.objects.all(), number, part):
            moved = quantity if kind == "found" else -quantity
            event = bulk_books.Event(lot.pk, Movement.Kind(kind), moved, at, "notebook")
            self.attempt(partial(self.bring_in, event))

    def bring_in(self, event):
        """As a table of past movements does: the row is remembered with its posting."""
        signature = self.books.sign()
        (posting,) = bulk_books.post_earlier([event], signature)
        table = Import.objects.create(
            table="movements", name="notebook", rows=1, added=1, by=signature.by, at=signature.recorded_at
        )
        ImportedRow.objects.create(key=f"{posting.pk}", run=table, posting=posting, lot_id=event.lot_id)

    @rule(which=ANY, amount=VALUE, credit=st.booleans(), by_weight=st.booleans(), at=WHEN)
    def bill_late(self, which, amount, credit, by_weight, at):
        """Freight or duty after its delivery, or a credit note for it, whatever became of the goods."""
        if delivery := one(Delivery.objects.all(), which):
            spread = Delivery.Spread.WEIGHT if by_weight else Delivery.Spread.VALUE
            signature = self.books.sign(at, "duty")
            bill = partial(late_costs.add_cost, delivery, spread=spread, reference="D-1", signature=signature)
            self.attempt(lambda: bill(amount=-amount if credit else amount))

    @rule(which=ANY)
    def take_back_what_was_billed(self, which):
        if late := one(LateCost.objects.filter(posting__reversal=None), which):
            self.attempt(lambda: self.books.reverse(late.posting))

    @rule(number=ANY, what=st.sampled_from(["hold", "release", "allow", "end"]))
    def hold_or_allow(self, number, what):
        if lot := one(Lot.objects.all(), number):
            signature = self.books.sign(reason="doubtful")
            verbs = {
                "hold": partial(holding.hold, lot.pk),
                "release": partial(holding.release, lot.pk),
                "allow": partial(holding.allow_use, lot.pk, TODAY, on=TODAY),
                "end": partial(holding.end_allowing, lot.pk),
            }
            self.attempt(partial(verbs[what], signature=signature))

    @rule(
        which=ANY,
        kind=st.sampled_from(
            [
                "dispatch",
                "receipt",
                "decant",
                "scrap",
                "sample",
                "sent_back",
                "found",
                "correction",
                "count",
                "earlier",
            ]
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

    def drawn_before_these_books(self):
        """What an old notebook says was used, in no batch; what was taken back of it left out."""
        of_old = Movement.objects.filter(kind="drawn", posting__kind="earlier", posting__reversal=None)
        return sum(of_old.values_list("value", flat=True))

    def given_by(self, batch):
        """What the lots of a batch that stand were given of its material."""
        given = 0
        for outcome in batch.outcomes.standing().exclude(lot=None):
            moved = outcome.lot.movements.filter(kind__in=["made", "revalued"])
            given += sum(moved.values_list("value", flat=True))
            given += sum(outcome.lot.period_costs.values_list("value", flat=True))
        return given

    @invariant()
    def every_millionth_is_somewhere(self):
        """Paid = on the shelf + sent or taken out + in batches that made no lot + costs of the period."""
        by_kind = dict.fromkeys(Movement.Kind.values, 0)
        for kind, value in Movement.objects.values_list("kind", "value"):
            by_kind[kind] += value
        standing = Draw.objects.filter(movement__posting__reversal=None)
        kept = -sum(standing.values_list("movement__value", flat=True))
        passed_on = 0
        for lot in Lot.objects.exclude(outcome=None):
            given = lot.movements.filter(kind__in=["made", "revalued"]).values_list("value", flat=True)
            passed_on += sum(given) + sum(lot.period_costs.values_list("value", flat=True))
        kept -= passed_on
        units = Outcome.objects.filter(posting__reversal=None, result__in=["good", "second"])
        for batch in Batch.objects.filter(state="finished", outcomes__in=units).distinct():
            drawn = -sum(batch.draws.standing().values_list("movement__value", flat=True))
            assert drawn == self.given_by(batch)
        shelf = sum(Lot.objects.values_list("value", flat=True))
        period = sum(PeriodCost.objects.values_list("value", flat=True))

        billed = sum(LateCost.objects.filter(posting__reversal=None).values_list("amount", flat=True))

        left = sum(by_kind[kind] for kind in ("dispatched", "scrapped", "sampled", "sent_back", "counted"))
        left += self.drawn_before_these_books()
        assert by_kind["received"] + billed == shelf - left + kept + period
        assert by_kind["decanted"] == by_kind["corrected"] == 0
        assert by_kind["made"] + by_kind["revalued"] + period == passed_on + billed
        assert by_kind["found"] == 0


@pytest.mark.django_db
def test_nothing_is_ever_lost_or_made_up():
    quick = settings(
        max_examples=25, stateful_step_count=30, deadline=None, suppress_health_check=list(HealthCheck)
    )
    run_state_machine_as_test(BooksMachine, settings=quick)
