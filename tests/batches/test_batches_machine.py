"""Batches as a machine: planned, drawn into pot by pot, corrected, finished in parts, opened again, remelted, shipped.

After every step what is on the shelf, what is in every lot and what every pot got is worked out anew in plain Python
from the rows alone. A refusal is right when it leaves everything as it was.
"""

from collections import defaultdict
from fractions import Fraction
from functools import partial

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule, run_state_machine_as_test

from batches import checks as batch_checks
from batches.formulas.sheet import batch_sheet
from batches.lineage.composition import compositions
from batches.models import Batch, Draw, Outcome
from batches.planning.plans import BatchError
from batches.production import finishing, runs
from batches.production.off_formula_of import made_of
from inventory import checks
from inventory.ledger.books import BookError
from inventory.lots.moving import Taking
from inventory.models import Lot, Movement
from studio.models import Role, User
from tests.house import Books, day, grams, snapshot

ANY = st.integers(0, 10**6)
PART = st.sampled_from([Fraction(n, 12) for n in (3, 6, 9, 12, 12, 13)])
NAMED = st.sampled_from([True, True, False])
FEW = st.sampled_from([0, 0, 1, 2])
ALL_CHECKS = [
    check for check in (*checks.CHECKS, *batch_checks.CHECKS) if check is not checks.guards_in_place
]


def one(rows, number):
    """One of the rows, or None where there is none."""
    found = list(rows.order_by("pk"))
    return found[number % len(found)] if found else None


def kind_of(outcome):
    """What makes a result the same: what became of it, of which item, and whether it is the melt of units."""
    return outcome.result, outcome.lot.item_id, outcome.emptied_id is not None


class BatchesMachine(RuleBasedStateMachine):
    """Wax, fragrance and wicks become candles of 10 g in one pot or two; what is remelted becomes candles once more."""

    def __init__(self):
        super().__init__()
        self.around = transaction.atomic()
        self.around.__enter__()
        self.books = Books(User.objects.create(username="maren", role=Role.OWNER))
        self.melt = self.books.item("melt", kind="wax", made_here=True)
        scented = [("wax", "wax_share", 1_000_000), ("fragrance", "of_melt", 80_000), ("wick", "per_unit", 1)]
        again = [
            ("wax", "wax_share", 250_000),
            ("melt", "wax_share", 750_000),
            ("fragrance", "of_melt", 20_000),
            ("wick", "per_unit", 1),
        ]
        self.versions = [
            self.books.formula("candle", scented, fill="10 g", name="one pot"),
            self.books.formula("candle", scented, fill="10 g", name="two pots", pot_ug=grams(50)),
            self.books.formula("tin", again, fill="10 g", name="remelted", pot_ug=grams(50)),
        ]
        for name, much in (("wax", "5 kg"), ("fragrance", "1 kg"), ("wick", 400)):
            for cost in ("7.77", "11"):
                self.books.receive(name, much, cost=cost, at=day(1))
        self.begin()

    def begin(self):
        """Two pots of candles with units to remelt, melt left over, and a second batch that is poured of the remelt."""
        for version, quantity in ((1, 8), (2, 2)):
            self.pour(self.books.plan(self.versions[version], quantity), 0, Fraction(1), named=True)
            batch = Batch.objects.latest("pk")
            if version == 1:
                assert self.attempt(
                    partial(self.enter, batch, self.result(5, 1, {}, 2, 1, weighed=True), last=True)
                )

    def teardown(self):
        try:
            assert [said for check in ALL_CHECKS for said in check()] == []
        finally:
            transaction.set_rollback(True)
            self.around.__exit__(None, None, None)

    def attempt(self, act):
        """Do it, or be refused and leave no trace; gives back whether it was done."""
        before = snapshot()
        try:
            with transaction.atomic():
                act()
        except (BookError, BatchError):
            assert snapshot() == before
            return False
        return True

    def put_in(self, batch, line, quantity, number, pot):
        lot = one(Lot.objects.filter(item=line.item, on_hand__gt=0), number)
        if lot and quantity:
            takings = [Taking(lot.pk, min(quantity, lot.on_hand))]
            sign = self.books.sign(day(12 if batch.item.name == "tin" else 10))
            self.attempt(partial(runs.draw_line, batch.pk, line.pk, takings, signature=sign, pot=pot))

    @rule(version=ANY, quantity=st.integers(2, 10), number=ANY, part=PART, named=NAMED)
    def plan_and_draw(self, version, quantity, number, part, named):
        """Every line of a new batch, pot by pot; of the last line only a part."""
        self.pour(self.books.plan(self.versions[version % 3], quantity), number, part, named)

    def pour(self, batch, number, part, named):
        quantity = batch.quantity
        sheet = batch_sheet(batch.version.recipe(), quantity)
        lines = {line.pk: line for line in batch.version.lines.select_related("item")}
        for target in sheet.targets:
            for pot, pour in enumerate(target.pours, 1):
                last = target is sheet.targets[-1]
                line = lines[target.line.key]
                much = int(pour * part) if last else pour
                self.put_in(batch, line, much, number, pot if named and line.in_melt else None)

    @rule(batch=ANY, line=ANY, number=ANY, much=st.integers(1, 10**7), pot=st.sampled_from([None, 1, 2]))
    def draw(self, batch, line, number, much, pot):
        batch = one(Batch.objects.unfinished(), batch)
        line = batch and one(batch.version.lines, line)
        if line:
            pots = len(batch_sheet(batch.version.recipe(), batch.quantity).pours)
            in_pot = pot if pot and pot <= pots and line.in_melt else None
            self.put_in(batch, line, much if line.in_melt else much % 4, number, in_pot)

    @rule(
        which=ANY,
        number=ANY,
        part=PART,
        nothing=st.booleans(),
        pot=st.sampled_from([runs.SAME_POT, runs.SAME_POT, None, 1]),
    )
    def correct(self, which, number, part, nothing, pot):
        draw = one(Draw.objects.standing(), which)
        lot = draw and one(Lot.objects.filter(item=draw.line.item, on_hand__gt=0), number)
        if lot:
            takings = [] if nothing else [Taking(lot.pk, max(int(draw.quantity * part), 1))]
            sign = self.books.sign(reason="mis-keyed")
            self.attempt(lambda: runs.correct_draw(draw.movement.posting, takings, signature=sign, pot=pot))

    def result(self, good, seconds, scrap, remelt, melt, weighed):
        """Candles of 10 g: units to remelt hold so much each, or what was weighed of them; and melt left in the pot."""
        recovered = []
        if remelt:
            each = grams(9) if weighed else grams(10)
            recovered.append(finishing.Recovered(self.melt, remelt * each, of_remelt=True, weighed=weighed))
        if melt:
            recovered.append(finishing.Recovered(self.melt, grams(melt)))
        return finishing.Result(good, seconds, scrap, rework=remelt, recovered=recovered)

    @rule(
        batch=ANY,
        good=st.integers(0, 9),
        seconds=FEW,
        scrap=FEW,
        remelt=FEW,
        melt=FEW,
        weighed=st.booleans(),
        last=st.sampled_from([True, True, False]),
    )
    def finish(self, batch, good, seconds, scrap, remelt, melt, weighed, last):
        if batch := one(Batch.objects.filter(state="started"), batch):
            result = self.result(good, seconds, {"Sinkhole": scrap}, remelt, melt, weighed)
            self.attempt(partial(self.enter, batch, result, last))

    def enter(self, batch, result, last):
        # Remelt is poured after it came back.
        sign = self.books.sign(day(12 if batch.item.name == "tin" else 11))
        posting = finishing.finish(batch.pk, result, signature=sign, without=True, last=last)
        for lot in Lot.objects.on_shelf().filter(outcomes__posting=posting, awaits_release=True):
            self.books.release(lot)
        return posting

    @rule(batch=ANY)
    def undo(self, batch):
        if batch := one(Batch.objects.exclude(state__in=["planned", "called_off"]), batch):
            self.attempt(partial(self.books.undo, batch))

    @rule(batch=ANY, more=st.integers(-1, 3), melt=FEW, weighed=st.booleans())
    def count_again(self, batch, more, melt, weighed):
        """The last part of a batch is taken back and entered with other counts: what is the same result keeps its lot."""
        batch = one(Batch.objects.filter(outcomes__in=Outcome.objects.standing()).distinct(), batch)
        if not batch:
            return
        part = list(batch.outcomes.standing().select_related("lot").order_by("pk"))
        part = [line for line in part if line.posting_id == part[-1].posting_id]
        was = {kind_of(line): line.lot_id for line in part if line.lot}
        counts = {line.result: line.quantity for line in part if line.result in {"good", "second", "rework"}}
        ended = batch.state == "finished"

        def act():
            self.books.undo(batch)
            numbers = {result: max(number + more, 1) for result, number in counts.items()}
            found = [numbers.get(name, 0) for name in ("good", "second", "rework")]
            result = self.result(found[0], found[1], {"Sinkhole": 1}, found[2], melt, weighed)
            posting = self.enter(batch, result, ended)
            now = {kind_of(line): line.lot_id for line in posting.outcomes.exclude(lot=None)}
            for kind in now.keys() & was.keys():
                assert now[kind] == was[kind]

        self.attempt(act)

    @rule(number=ANY, part=PART)
    def ship(self, number, part):
        goods = Lot.objects.filter(item__kind="finished", on_hand__gt=0)
        if lot := one(goods, number):
            much = max(int(lot.on_hand * part), 1)
            self.attempt(partial(self.books.send, lot, much, at=day(13)))

    @invariant()
    def every_lot_is_the_sum_of_its_movements(self):
        moved = defaultdict(lambda: (0, 0))
        for lot_id, quantity, value in Movement.objects.values_list("lot_id", "quantity", "value"):
            moved[lot_id] = (moved[lot_id][0] + quantity, moved[lot_id][1] + value)
        for lot_id, on_hand, value in Lot.objects.values_list("pk", "on_hand", "value"):
            assert (on_hand, value) == moved[lot_id]
            assert min(on_hand, value) >= 0
            assert on_hand or not value

    @invariant()
    def what_is_in_each_lot_and_pot_comes_to_one(self):
        """Shares worked out from the draws and results that stand; where batches fed each other only the sum is asked."""
        known = compositions(
            list(Lot.objects.values_list("pk", flat=True)), list(Batch.objects.values_list("pk", flat=True))
        )
        own = Shares()
        for key, portion in known.items():
            assert sum(portion.parts.values()) + sum(portion.unknown.values()) == 1
            shares = own.of(key.what, key.pk)
            if shares is not None:
                assert not portion.unknown
                assert {item.name: share for item, share in portion.parts.items()} == shares
        drawn = {batch for batch, rows in own.weighed.items() if rows}
        assert {key.pk for key in known if key.what == "batch"} == drawn

    @invariant()
    def pots_hold_what_was_drawn(self):
        """Where every weight names its pot the pots come to what was drawn; elsewhere no more than that is said."""
        for batch in Batch.objects.select_related("version__formula__item"):
            pots = made_of(batch).pots
            rows = list(
                batch.draws.filter(movement__posting__reversal=None)
                .exclude(line__basis="per_unit")
                .values_list("line", "pot", "movement__quantity")
            )
            for line in batch.version.lines.exclude(basis="per_unit"):
                here = [(pot, -quantity) for key, pot, quantity in rows if key == line.pk]
                weights = [next(each for each in pot.weights if each.line == line) for pot in pots]
                told = all(pot for pot, _ in here) or len(pots) == 1
                assert all(weight.is_known == told for weight in weights)
                named = sum(quantity for pot, quantity in here if pot or len(pots) == 1)
                assert sum(weight.actual for weight in weights) == named
                for number, weight in enumerate(weights, 1):
                    mine = [quantity for pot, quantity in here if pot == number or len(pots) == 1]
                    assert weight.actual == sum(mine)
                    assert told or not weight.is_within

    @invariant()
    def every_code_leads_somewhere(self):
        assert list(checks.codes_lead_somewhere()) == []


class Shares:
    """What is in lots and pots by the names of what was bought, from the rows as they stand."""

    def __init__(self):
        self.item = dict(Lot.objects.values_list("pk", "item__name"))
        self.maker, self.weighed = {}, defaultdict(list)
        standing = Outcome.objects.filter(posting__reversal=None).exclude(lot=None)
        self.made_here = set(Outcome.objects.exclude(lot=None).values_list("lot", flat=True))
        for lot, batch in standing.values_list("lot", "batch"):
            self.maker[lot] = batch
        draws = Draw.objects.filter(movement__posting__reversal=None).exclude(line__basis="per_unit")
        for batch, lot, quantity in draws.values_list("batch", "movement__lot", "movement__quantity"):
            self.weighed[batch].append((lot, -quantity))

    def of(self, what, pk, above=()):
        """Shares of a lot or a pot; None where that is not known, or where it went round in a circle."""
        if (what, pk) in above:
            return None
        path = (*above, (what, pk))
        if what == "lot":
            if pk not in self.made_here:
                return {self.item[pk]: Fraction(1)}
            return self.of("batch", self.maker[pk], path) if pk in self.maker else None
        found, whole = defaultdict(Fraction), sum(quantity for _, quantity in self.weighed[pk])
        for lot, quantity in self.weighed[pk]:
            shares = self.of("lot", lot, path)
            if shares is None:
                return None
            for name, share in shares.items():
                found[name] += share * Fraction(quantity, whole)
        return dict(found) if whole else None


@pytest.mark.django_db
def test_a_batch_never_loses_its_melt_its_pots_or_its_codes():
    quick = settings(
        max_examples=8, stateful_step_count=12, deadline=None, suppress_health_check=list(HealthCheck)
    )
    run_state_machine_as_test(BatchesMachine, settings=quick)
