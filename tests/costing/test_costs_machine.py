"""Costs over whatever happened in the books: heads add up, material is what the movements say, and what blends pass on is
what they cost."""

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import rule, run_state_machine_as_test

from batches.models import Batch, Draw, Labour
from batches.production import runs
from costing.actual.batch_cost import COST_READS, costs_of
from costing.rates.rates import Rates, set_labour_rate, set_overhead_rate
from costing.variances.batch_variances import FORMULA_READS, variances_of
from inventory.models import Lot, Movement
from tests.house import FIRST_DAY, NOW, TODAY, day, money
from tests.inventory.test_books_machine import ANY, BooksMachine, one


class CostsMachine(BooksMachine):
    """The books as in their own machine; somebody notes time now and then, and at the end everything is costed."""

    def __init__(self):
        super().__init__()
        signed = {"by": self.books.by, "now": NOW, "from_on": FIRST_DAY}
        set_labour_rate(person=None, per_hour=money("19.37"), **signed)
        set_overhead_rate(name="Rent", basis="of_labour", amount=333_333, **signed)
        set_overhead_rate(name="Energy", basis="per_melt", amount=money("0.95"), **signed)
        # A blend that took an hour is on the shelf from the start, so that most runs have something passed on.
        first = self.books.plan(self.versions[0], 36)
        self.books.draw_into(first, (Lot.objects.get(item__name="wax"), 36), at=day(8))
        self.books.finish(first, 36, at=day(9))
        self.note(first, 60)

    @rule(batch=ANY, minutes=st.integers(1, 500))
    def work(self, batch, minutes):
        batch = one(Batch.objects.all(), batch)
        if batch:
            self.note(batch, minutes)

    @rule(entry=ANY)
    def take_back(self, entry):
        entry = one(Labour.objects.standing(), entry)
        if entry:
            runs.take_back_labour(entry.pk, signature=self.books.sign(reason="The clock ran on"))

    def note(self, batch, minutes):
        by, signature = self.books.by.pk, self.books.sign()
        runs.note_labour(
            batch, person_id=by, step="pour", minutes=minutes, worked_on=TODAY, signature=signature
        )

    def teardown(self):
        try:
            self.every_cost_adds_up()
        finally:
            super().teardown()

    def every_cost_adds_up(self):
        found = Batch.objects.with_product().prefetch_related(*COST_READS, *FORMULA_READS).order_by("pk")
        rates = Rates.read()
        told = {cost.batch.pk: cost for cost in costs_of(found, rates)}
        for key, cost in told.items():
            drawn = Movement.objects.filter(draw__in=Draw.objects.standing().filter(batch=key))
            assert cost.material + cost.recovered == -sum(drawn.values_list("value", flat=True))
            assert sum(cost.job.heads.values()) == sum(cost.heads.values()) == cost.job.total
        # A movement takes along at least nothing, and all that left the lots of a batch at most what the batch cost.
        made_in = dict(Batch.objects.filter(outcomes__lot__isnull=False).values_list("outcomes__lot", "pk"))
        gone: dict[int, int] = {}
        for cost in told.values():
            for drawn in cost.draws:
                along = drawn.along.labour + drawn.along.overhead
                assert along >= 0
                source = made_in.get(drawn.draw.movement.lot_id)
                if along:
                    gone[source] = gone.get(source, 0) + along
        for source, along in gone.items():
            heads = told[source].job.heads
            assert along <= heads["labour"] + heads["overhead"]
        for run in variances_of(list(found), rates):
            assert run.told.standard + sum(run.told.parts.values()) == run.told.actual == run.cost.job.total


@pytest.mark.django_db
def test_whatever_happens_costs_add_up():
    quick = settings(
        max_examples=8, stateful_step_count=25, deadline=None, suppress_health_check=list(HealthCheck)
    )
    run_state_machine_as_test(CostsMachine, settings=quick)
