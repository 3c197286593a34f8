"""How wide a recall of a lot would be: the batches, units, customers and money it would touch.

For all lots at once: the number of queries grows with how deep material was passed on, never with how many lots or
batches there are.
"""

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import F, Sum

from batches.lineage import lineage
from batches.lineage.lineage import Key, Lineage, descendants
from inventory.models import Dispatch, Kind, Lot, Movement, ReturnLine


@dataclass(frozen=True)
class Width:
    """What carries some of a lot already.

    `batches` that drew of it, `units` of finished goods that came of them (good and seconds), how many of those went out
    and have not come back, how many are here, and the `customers` who have something of it. `value_here` is what all
    affected lots on the shelf are worth, itself among them, `value_sent` what the goods that are out cost, in millionths.
    """

    batches: int = 0
    units: int = 0
    customers: int = 0
    units_sent: int = 0
    units_here: int = 0
    value_here: int = 0
    value_sent: int = 0

    @property
    def value(self) -> int:
        """All that a recall would put at risk, in millionths."""
        return self.value_here + self.value_sent


@dataclass(frozen=True)
class _Facts:
    """What stands in the books of each affected lot: what is here, what went out at what cost, and to whom."""

    here: dict[int, tuple[int, int, bool]]  # on hand, value, finished goods
    sent: dict[int, tuple[int, int]]  # units, value
    customers: dict[int, set[object]]


def widths(lot_ids: Collection[int]) -> dict[int, Width]:
    """The width of each of these lots, by its key."""
    found = descendants(set(lot_ids))
    facts = _facts(found.lots)
    made: dict[int, int] = {}
    for came in found.came:
        if came.lot in facts.here and facts.here[came.lot][2]:
            made[came.batch] = made.get(came.batch, 0) + came.quantity
    return {lot_id: _width(lot_id, found, facts, made) for lot_id in lot_ids}


def _width(lot_id: int, found: Lineage, facts: _Facts, made: dict[int, int]) -> Width:
    reached = found.carrying(Key("lot", lot_id))
    lots = [key.pk for key in reached if key.what == "lot" and key.pk in facts.here]
    batches = [key.pk for key in reached if key.what == "batch"]
    sent = [facts.sent[pk] for pk in lots if pk in facts.sent]
    return Width(
        batches=len(batches),
        units=sum(made.get(pk, 0) for pk in batches),
        customers=len({each for pk in lots for each in facts.customers.get(pk, ())}),
        units_sent=sum(facts.sent[pk][0] for pk in lots if pk in facts.sent and facts.here[pk][2]),
        units_here=sum(facts.here[pk][0] for pk in lots if facts.here[pk][2]),
        value_here=sum(facts.here[pk][1] for pk in lots),
        value_sent=sum(value for _, value in sent),
    )


def _facts(lots: Collection[int]) -> _Facts:
    """A few queries."""
    shelf = Lot.objects.filter(pk__in=lots).values_list("pk", "on_hand", "value", "item__kind")
    here = {pk: (on_hand, value, kind == Kind.FINISHED) for pk, on_hand, value, kind in shelf}
    left = Movement.objects.standing().filter(kind=Movement.Kind.DISPATCHED, lot__in=lots).order_by()
    totals = left.values_list("lot").annotate(Sum("quantity"), Sum("value"))
    sent = {pk: (-quantity, -value) for pk, quantity, value in totals}
    back = ReturnLine.objects.filter(
        source__in=lots,
        goods_return__posting__reversal__isnull=True,
        lot__movements__posting=F("goods_return__posting"),
    )
    returned = back.order_by().values_list("source").annotate(Sum("quantity"), Sum("lot__movements__value"))
    for pk, quantity, value in returned:
        sent[pk] = (sent[pk][0] - quantity, sent[pk][1] - value)
    return _Facts(here, sent, _customers(lots))


def _customers(lots: Collection[int]) -> dict[int, set[object]]:
    """Who has some of each lot, as far as they are on record; two queries."""
    gone = lineage.sent(lots)
    whose = dict(
        Dispatch.objects.filter(pk__in={row.dispatch for row in gone})
        .exclude(customer=None)
        .values_list("pk", "customer")
    )
    customers: dict[int, set[object]] = {}
    for row in gone:
        if row.dispatch in whose:
            customers.setdefault(row.lot, set()).add(whose[row.dispatch])
    return customers
