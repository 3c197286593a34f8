"""Closing the books with their report: the figures as they were are kept beside the closing, to come out the same later."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction

from batches.models import Batch
from costing.models import ClosedFigure
from costing.valuation.goods import Goods, goods_at, rule_on
from costing.valuation.ledger_as_of import Instant
from inventory.ledger import closing
from inventory.models import Closing, Count, Posting
from studio.core.days import first_instant_after
from studio.people.signature import Signature


@transaction.atomic
def close_books(through: date, *, signature: Signature) -> Closing:
    """Close the books through a day and keep what goods were worth at its end. Raises closing.CannotClose."""
    closed = closing.close(through, signature=signature)
    figures = figures_of(goods_at(Instant(closed.until), rule_on(through)))
    ClosedFigure.objects.bulk_create(
        ClosedFigure(closing=closed, name=name, value=value) for name, value in figures.items()
    )
    return closed


def figures_of(goods: Goods) -> dict[str, int]:
    """What is kept of a report, by name, in millionths."""
    added = goods.total().added
    return {
        **{str(each): total.books for each, total in goods.classes},
        "Labour in it": added.labour,
        "Owner's labour in it": added.owner,
        "Overhead in it": added.overhead,
        "Abnormal loss taken out of it": -added.material,
        "Counted as goods": goods.worth,
    }


@dataclass(frozen=True)
class Kept:
    """One figure of a closing: as it was kept, and as it comes out now."""

    name: str
    then: int
    now: int

    @property
    def same(self) -> bool:
        """Whether it still comes out."""
        return self.then == self.now


def compared(closed: Closing) -> list[Kept]:
    """Every figure that was kept, beside what it comes out as now, in millionths."""
    now = figures_of(goods_at(Instant(closed.until), rule_on(closed.through)))
    return [Kept(each.name, each.value, now.get(each.name, 0)) for each in closed.figures.all()]


def what_is_open(through: date) -> list[str]:
    """What one would rather settle before the books are closed through a day, in sentences."""
    until = first_instant_after(through)
    begun = Batch.objects.filter(state=Batch.State.STARTED, draws__movement__posting__happened_at__lt=until)
    counts = Count.objects.being_counted().filter(lines__counted_at__lt=until)
    waiting = Posting.objects.to_review().filter(happened_at__lt=until)
    said = []
    if number := begun.distinct().count():
        said.append(
            f"{_many(number, 'run')} begun before then {_is(number)} still in progress, and counted as such."
        )
    if number := counts.distinct().count():
        said.append(
            f"{_many(number, 'count')} of the shelf looked at before then {_is(number)} not in the books yet."
        )
    if number := waiting.count():
        said.append(
            f"{_many(number, 'posting')} that booked stock as found {_is(number)} still to be looked at."
        )
    return said


def _many(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _is(number: int) -> str:
    return "is" if number == 1 else "are"


def months_closable(today: date) -> list[date]:
    """Last days of the past twelve months that are over and not closed yet, the latest first."""
    closed = closing.latest()
    days, last = [], today.replace(day=1)
    for _ in range(12):
        last = date.fromordinal(last.toordinal() - 1)
        if closed and last <= closed.through:
            break
        days.append(last)
        last = last.replace(day=1)
    return days


def waits_to_be_closed(today: date) -> tuple[date, date] | None:
    """Through which day the books are closed, and through which they would be by now: as far on as the time before.

    None where they never were, and until that day is over.
    """
    latest = list(Closing.objects.order_by("-until").values_list("through", flat=True)[:2])
    if not latest:
        return None
    begun = [_month(day + timedelta(days=1)) for day in latest]
    months = max(begun[0] - begun[-1], 1)
    year, month = divmod(begun[0] + months, 12)
    due = date(year, month + 1, 1) - timedelta(days=1)
    return (latest[0], due) if due < today else None


def _month(day: date) -> int:
    """Months since the beginning of the calendar."""
    return day.year * 12 + day.month - 1
