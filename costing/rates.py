"""Which rate held on a day. Rates are dated and never rewritten; the latest set for a day counts."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from costing.models import LabourRate, OverheadRate
from studio.models import User


@dataclass(frozen=True)
class Rates:
    """All rates, the latest first, read once for a page."""

    labour: Sequence[LabourRate]
    overhead: Sequence[OverheadRate]

    @classmethod
    def read(cls) -> "Rates":
        """Every rate on record, in two queries."""
        return cls(list(LabourRate.objects.all()), list(OverheadRate.objects.all()))

    def per_hour(self, person_id: int, on: date) -> int | None:
        """What an hour of this person costs on a day, in millionths; None when no rate is set.

        A rate of their own goes before the rate for everybody.
        """
        for owner in (person_id, None):
            for rate in self.labour:
                if rate.person_id == owner and rate.from_on <= on:
                    return rate.per_hour
        return None

    def overhead_on(self, on: date) -> OverheadRate | None:
        """The overhead rule that holds on a day; None when none is set."""
        return next((rate for rate in self.overhead if rate.from_on <= on), None)


def set_labour_rate(
    *, from_on: date, person: User | None, per_hour: int, by: User, now: datetime
) -> LabourRate:
    """Set what an hour costs from a day on, in millionths of the currency unit."""
    return LabourRate.objects.create(from_on=from_on, person=person, per_hour=per_hour, set_by=by, set_at=now)


def set_overhead_rate(*, from_on: date, basis: str, amount: int, by: User, now: datetime) -> OverheadRate:
    """Set the overhead rule from a day on: millionths, or parts per million of labour."""
    return OverheadRate.objects.create(from_on=from_on, basis=basis, amount=amount, set_by=by, set_at=now)
