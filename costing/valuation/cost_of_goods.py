"""What goods cost in a period: what was there, what came and was added, less what is left; and where it went.

Stock at both ends comes from balances, what came and went from the movements between: two ways to the same figure, so that
what neither explains would show as `unexplained`. It is nothing, to the last millionth.
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Case, Q, QuerySet, Sum, Value, When
from django.db.models.functions import Coalesce

from costing.models import GoodsRule
from costing.rates.rates import Rates
from costing.valuation import ledger_as_of
from costing.valuation.carried import Added
from costing.valuation.goods import Goods, goods_at
from costing.valuation.ledger_as_of import Instant
from inventory.models import DeliveryLine, Dispatch, Movement, PeriodCost, Posting
from studio.core.days import begin, first_instant_after

PURCHASES = "Purchases"
FREIGHT = "Freight on deliveries"
LATE = "Costs billed after delivery"
SENT_BACK = "Sent back to suppliers"
BROUGHT_IN = "Opening stock brought in"
PUT_RIGHT = "Costs put right by hand"
CAME = (PURCHASES, FREIGHT, LATE, SENT_BACK, BROUGHT_IN, PUT_RIGHT)

SOLD = "Sold"
GIVEN = "Samples, gifts and replacements"
COUNTED = "Missing, and found, at counts"
SCRAPPED = "Scrapped from the shelf"
LOST = "Lost in batches that came to nothing"
OUTSIDE = "Used outside batches"
LATE_GONE = "Costs billed later, for goods that had left"
GONE_PUT_RIGHT = "Cost of runs put right after goods had left"
WENT = (SOLD, GIVEN, COUNTED, SCRAPPED, LOST, OUTSIDE, LATE_GONE, GONE_PUT_RIGHT)

GIVEN_AWAY = {Dispatch.Kind.SAMPLE, Dispatch.Kind.GIFT, Dispatch.Kind.REPLACEMENT}
TAKEN_TO = {
    Movement.Kind.SAMPLED: GIVEN,
    Movement.Kind.SCRAPPED: SCRAPPED,
    Movement.Kind.COUNTED: COUNTED,
    Movement.Kind.FOUND: COUNTED,
    Movement.Kind.CORRECTED: COUNTED,
}


@dataclass(frozen=True)
class CostOfGoods:
    """A period's report. `came` and `went` are material by the books, by name, in millionths; those of nothing are left
    out of neither. `added` is the work and overhead of the period, `abnormal` what was abnormal loss in it."""

    first: date
    last: date
    rule: GoodsRule
    opening: Goods
    closing: Goods
    came: dict[str, int]
    went: dict[str, int]

    @property
    def added(self) -> Added:
        """Labour and overhead of the period."""
        return self.closing.ever_added - self.opening.ever_added

    @property
    def abnormal(self) -> Added:
        """What was lost beyond the normal share, in all four parts."""
        return self.closing.abnormal - self.opening.abnormal

    @property
    def used(self) -> int:
        """Material by the books: opening, and what came, less closing."""
        return self.opening.total().books + sum(self.came.values()) - self.closing.total().books

    @property
    def unexplained(self) -> int:
        """What is not where any movement says. Nothing."""
        return self.used - sum(self.went.values())

    @property
    def cost(self) -> Added:
        """The cost of goods in its four parts, abnormal loss among them. `material` is above zero here."""
        taken_out = self.opening.total().added - self.closing.total().added
        parts = self.added + taken_out
        return Added(parts.labour, parts.owner, parts.overhead, parts.material + self.used)

    @property
    def days(self) -> int:
        """How many days the period has."""
        return (self.last - self.first).days + 1


def cost_of_goods(first: date, last: date, rule: GoodsRule, *, known: datetime | None = None) -> CostOfGoods:
    """The report from one day to another, both counted, by what was recorded before `known`; a constant number of
    queries."""
    start, end = Instant(begin(first), known), Instant(first_instant_after(last), known)
    rates = Rates.read()
    came, went = _moved(start, end)
    opening, closing = goods_at(start, rule, rates), goods_at(end, rule, rates)
    went[LOST] += closing.lost - opening.lost
    return CostOfGoods(first, last, rule, opening, closing, came, went)


def _moved(start: Instant, end: Instant) -> tuple[dict[str, int], dict[str, int]]:
    """What came and where it went, by name, in millionths."""
    came: dict[str, int] = dict.fromkeys(CAME, 0)
    went: dict[str, int] = dict.fromkeys(WENT, 0)
    drawn = 0
    for kind, of, sent_as, late, by_batch, value in _movements(start, end):
        if kind == Movement.Kind.RECEIVED:
            came[BROUGHT_IN if of == Posting.Kind.OPENING else PURCHASES] += value
        elif kind == Movement.Kind.SENT_BACK:
            came[SENT_BACK] += value
        elif kind == Movement.Kind.DRAWN:
            drawn -= value
        elif kind in {Movement.Kind.DISPATCHED, Movement.Kind.RETURNED}:
            went[GIVEN if sent_as in GIVEN_AWAY else SOLD] -= value
        elif kind in TAKEN_TO:
            went[TAKEN_TO[Movement.Kind(kind)]] -= value
        elif kind == Movement.Kind.REVALUED and not by_batch:
            came[LATE if late else PUT_RIGHT] += value
    into_batches = [sum(value for value, _ in ledger_as_of.drawn(at).values()) for at in (start, end)]
    went[OUTSIDE] += drawn - (into_batches[1] - into_batches[0])
    for late, by_batch, value in _period_costs(start, end):
        # A batch's own correction was in its pot before; any other cost came with the correction.
        came[LATE if late else PUT_RIGHT] += 0 if by_batch else value
        went[LATE_GONE if late else GONE_PUT_RIGHT] += value
    freight = _freight(start, end)
    came[FREIGHT] += freight
    came[PURCHASES] -= freight
    return came, went


def _between(rows: QuerySet[Any], start: Instant, end: Instant) -> QuerySet[Any]:
    return rows.filter(end.of(), posting__happened_at__gte=start.until).order_by()


def _is(condition: Q) -> Case:
    return Case(When(condition, then=Value(True)), default=Value(False))


LATE_COST = Q(posting__late_cost__isnull=False) | Q(posting__reverses__late_cost__isnull=False)
BY_BATCH = Q(lot__outcome__isnull=False)


def _movements(start: Instant, end: Instant) -> list[tuple[str, str, str | None, bool, bool, int]]:
    """Value by kind of movement, of posting and of dispatch; whether a cost was billed later, and the lot made by a batch.

    A reversal counts as what it reverses.
    """
    rows = _between(Movement.objects.all(), start, end).annotate(
        of=Coalesce("posting__reverses__kind", "posting__kind"),
        sent_as=Coalesce(
            "posting__dispatch__kind",
            "posting__reverses__dispatch__kind",
            "posting__goods_return__dispatch__kind",
            "posting__reverses__goods_return__dispatch__kind",
        ),
        late=_is(LATE_COST),
        by_batch=_is(BY_BATCH),
    )
    keys = ("kind", "of", "sent_as", "late", "by_batch")
    return list(rows.values_list(*keys).annotate(worth=Sum("value")))


def _period_costs(start: Instant, end: Instant) -> list[tuple[bool, bool, int]]:
    rows = _between(PeriodCost.objects.all(), start, end)
    rows = rows.annotate(late=_is(LATE_COST), by_batch=_is(BY_BATCH & ~LATE_COST))
    return list(rows.values_list("late", "by_batch").annotate(worth=Sum("value")))


def _freight(start: Instant, end: Instant) -> int:
    """Freight in the deliveries of the period, less that of deliveries reversed in it."""
    total = 0
    for sign, posting in ((1, "delivery__posting"), (-1, "delivery__posting__reversal")):
        lines = DeliveryLine.objects.filter(end.of(posting), **{f"{posting}__happened_at__gte": start.until})
        total += sign * (lines.aggregate(total=Sum("freight_value"))["total"] or 0)
    return total
