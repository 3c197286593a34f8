"""Which rate held on a day. Rates are dated and never rewritten; the latest set for a day counts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

from django.db import transaction
from django.utils import timezone

from batches.models import Batch, Labour
from costing.model.job_cost import OverheadBasis, OverheadRule
from costing.models import LabourRate, OverheadPaid, OverheadRate
from inventory.ledger import closing
from studio.core.days import begin
from studio.models import User


class RateError(Exception):
    """A rate cannot be set so. Its text is a sentence for a person."""


@dataclass(frozen=True)
class Rates:
    """All rates, the latest first, read once for a page."""

    labour: Sequence[LabourRate]
    overhead: Sequence[OverheadRate]

    @classmethod
    def read(cls) -> "Rates":
        """Every rate on record, in two queries."""
        return cls(list(LabourRate.objects.all()), list(OverheadRate.objects.all()))

    def per_hour(self, person_id: int | None, on: date, task: str = "") -> int | None:
        """What an hour of this person costs on a day, at a task, in millionths; None when no rate is set.

        The closest goes first: this person at this task, this person, this task, everybody. A `person_id` of None asks
        for whoever it will be: what is planned has no name on it yet.
        """
        for person, work in ((person_id, task), (person_id, ""), (None, task), (None, "")):
            for rate in self.labour:
                if rate.person_id == person and rate.task == work and rate.from_on <= on:
                    return rate.per_hour
        return None

    def overhead_on(self, on: date) -> list[OverheadRate]:
        """The overhead rules that hold on a day, the latest of each name; those that ended (at nothing) are left out."""
        holding: dict[str, OverheadRate] = {}
        for rate in self.overhead:
            if rate.from_on <= on:
                holding.setdefault(rate.name.casefold(), rate)
        return [rate for rate in sorted(holding.values(), key=lambda rate: rate.pk) if rate.amount]

    def says_overhead(self, on: date) -> bool:
        """Whether somebody ever said what overhead is from a day before, be it nothing."""
        return any(rate.from_on <= on for rate in self.overhead)

    def rules_on(self, on: date) -> tuple[OverheadRule, ...]:
        """The same as plain figures."""
        return tuple(
            OverheadRule(OverheadBasis(rate.basis), rate.amount, rate.label) for rate in self.overhead_on(on)
        )


@transaction.atomic
def set_labour_rate(
    *, from_on: date, person: User | None, per_hour: int, by: User, now: datetime, task: str = ""
) -> LabourRate:
    """Set what an hour costs from a day on, in millionths of the currency unit.

    Raises RateError where work that was noted already would cost otherwise than it did.
    """
    new = LabourRate(from_on=from_on, person=person, task=task, per_hour=per_hour, set_by=by, set_at=now)
    check_open(from_on)
    if work := _rewritten_work(new):
        raise RateError(_past(f"{work} since {from_on:%d %b %Y} would"))
    new.save(force_insert=True)
    return new


def check_open(from_on: date, what: str = "rate") -> None:
    """Raise RateError where a rate would begin while the books are closed: goods would have cost otherwise.

    Nobody closes them until the transaction ends.
    """
    closing.hold_open()
    closed = closing.latest()
    if closed and from_on <= closed.through:
        raise RateError(
            f"The books are closed up to {closed.through:%d %b %Y}. Let the new {what} begin after that."
        )


def _past(what: str) -> str:
    return f"{what} cost otherwise than they did. Let the new rate begin today."


def _rewritten_work(new: LabourRate) -> str:
    """What a new rate would change of the past, in words: noted minutes for which another rate was set before today."""
    today = timezone.localtime(new.set_at).date()
    if new.from_on >= today:
        return ""
    # What was set today may still be put right: nobody has worked with it yet.
    settled = [rate for rate in Rates.read().labour if timezone.localtime(rate.set_at).date() < today]
    noted = Labour.objects.filter(worked_on__gte=new.from_on, takes_back=None)
    if new.person_id:
        noted = noted.filter(person=new.person_id)
    if new.task:
        noted = noted.filter(step=new.task)
    before, after = Rates(settled, ()), Rates(_in_order([*settled, new]), ())
    changed = [
        (person, step, on)
        for person, step, on in noted.values_list("person_id", "step", "worked_on").distinct()
        if before.per_hour(person, on, step) not in (None, after.per_hour(person, on, step))
    ]
    return f"Minutes worked on {len({on for _, _, on in changed})} days" if changed else ""


def _in_order(rates: Sequence[LabourRate]) -> list[LabourRate]:
    """The latest first; one that is not kept yet counts as the last."""
    return sorted(rates, key=lambda rate: (rate.from_on, rate.pk or float("inf")), reverse=True)


@transaction.atomic
def set_overhead_rate(
    *,
    from_on: date,
    basis: str,
    amount: int,
    by: User,
    now: datetime,
    name: str = "",
    per_month: int | None = None,
    capacity: Fraction | Decimal | None = None,
) -> OverheadRate:
    """Set an overhead rule from a day on: millionths, or parts per million of labour. At nothing, it ends.

    `per_month` and `capacity` say what `amount` was worked out from, where it was: millionths, and a number of what
    the basis counts. Raises RateError where runs that are finished would cost otherwise than they did.
    """
    check_open(from_on)
    today = timezone.localtime(now).date()
    # What was set today may still be put right, and the first rule of all may reach back.
    if from_on < today and OverheadRate.objects.filter(set_at__lt=begin(today)).exists():
        done = Batch.objects.filter(finished_at__gte=begin(from_on)).count()
        if done:
            raise RateError(_past(f"Runs finished since {from_on:%d %b %Y} ({done}) would"))
    return OverheadRate.objects.create(
        name=name,
        from_on=from_on,
        basis=basis,
        amount=amount,
        per_month=per_month,
        capacity=None if capacity is None else round(capacity * 1000),
        set_by=by,
        set_at=now,
    )


def set_overhead_paid(*, month: date, amount: int, note: str, by: User, now: datetime) -> OverheadPaid:
    """Write down what overhead really came to in a month, in millionths; the latest for a month counts."""
    return OverheadPaid.objects.create(
        month=month.replace(day=1), amount=amount, note=note, set_by=by, set_at=now
    )
