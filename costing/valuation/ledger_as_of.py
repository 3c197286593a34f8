"""The books as they stood at an instant: by what had happened, and, for an audit, by what was known of it by then.

Every question is one set-based query, whatever the number of movements behind it.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from batches.models import BatchEnd, Draw, FormulaVersion, Labour, Outcome
from batches.models.formulas import DRAWN_INTO_THE_POT
from inventory.models import Item, Kind, Lot, Movement, PeriodCost, Posting, ReturnLine


@dataclass(frozen=True)
class Instant:
    """Everything that happened before `until` counts; with `known`, only what was recorded before that."""

    until: datetime
    known: datetime | None = None

    @property
    def day(self) -> date:
        """The last day that counts, in part or whole."""
        return timezone.localtime(self.until - timedelta(microseconds=1)).date()

    def of(self, posting: str = "posting") -> Q:
        """What counts, of rows that hang on a posting."""
        return self._q(f"{posting}__happened_at", f"{posting}__recorded_at")

    def own(self) -> Q:
        """What counts, of rows that say themselves when they happened and were recorded."""
        return self._q("happened_at", "recorded_at")

    def _q(self, happened: str, recorded: str) -> Q:
        found = Q(**{f"{happened}__lt": self.until})
        return found & Q(**{f"{recorded}__lt": self.known}) if self.known else found

    def standing(self, rows: QuerySet[Any], posting: str = "posting") -> QuerySet[Any]:
        """Rows that count and whose posting was not reversed by then."""
        reversals = Posting.objects.filter(self.own(), reverses=OuterRef(f"{posting}_id"))
        return rows.filter(self.of(posting)).filter(~Exists(reversals))


Amount = tuple[int, int]
"""Base units and millionths."""


def on_shelf(at: Instant) -> dict[int, Amount]:
    """What there was of each item; items of which nothing was left are left out.

    Worked backwards from the balances of lots, which `check_books` proves, over what happened since; where it is asked
    what was known, forwards from the movements.
    """
    moved = Movement.objects.order_by().values_list("lot__item")
    told: list[tuple[int, Iterable[tuple[int, int, int]]]] = []
    if at.known:
        told.append((1, moved.filter(at.of()).annotate(amount=Sum("quantity"), worth=Sum("value"))))
    else:
        now = Lot.objects.order_by().filter(on_hand__gt=0).values_list("item")
        later = moved.filter(posting__happened_at__gte=at.until)
        told.append((1, now.annotate(amount=Sum("on_hand"), worth=Sum("value"))))
        told.append((-1, later.annotate(amount=Sum("quantity"), worth=Sum("value"))))
    found: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for sign, rows in told:
        for item_id, quantity, value in rows:
            found[item_id][0] += sign * quantity
            found[item_id][1] += sign * value
    return {item_id: (quantity, value) for item_id, (quantity, value) in found.items() if quantity or value}


def lots_before(at: Instant) -> list[tuple[int, int, int]]:
    """Each lot that held something, oldest first: its item, base units and millionths; worked backwards as `on_shelf`."""
    found: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    moved = Movement.objects.filter(posting__happened_at__gte=at.until).order_by().values_list("lot")
    for lot_id, quantity, value in moved.annotate(amount=Sum("quantity"), worth=Sum("value")):
        found[lot_id] = [-quantity, -value]
    order: list[tuple[datetime, int, int, int, int]] = []
    for lot_id, item_id, arrived_at, quantity, value in Lot.objects.values_list(
        "pk", "item_id", "arrived_at", "on_hand", "value"
    ).iterator(chunk_size=5000):
        if quantity or lot_id in found:
            since = found.get(lot_id, (0, 0))
            order.append((arrived_at, lot_id, item_id, quantity + since[0], value + since[1]))
    return [
        (item_id, quantity, value) for _, _, item_id, quantity, value in sorted(order) if quantity or value
    ]


def lots_on_shelf(at: Instant, item_id: int) -> list[tuple[int, int, int]]:
    """Each lot of an item that held something: its key, base units and millionths, in the order they arrived."""
    rows = Movement.objects.filter(at.of(), lot__item=item_id).order_by().values_list("lot")
    sums = rows.annotate(quantity=Sum("quantity"), worth=Sum("value"))
    return [
        (lot_id, quantity, worth)
        for lot_id, quantity, worth in sums.order_by("lot__arrived_at", "lot")
        if quantity or worth
    ]


def over(at: Instant) -> set[int]:
    """The batches that had come to their end."""
    rows = BatchEnd.objects.filter(at.own()).order_by().values_list("batch")
    return {batch_id for batch_id, sign in rows.annotate(Sum("sign")) if sign > 0}


def ended_on(at: Instant) -> dict[int, date]:
    """The day on which each batch came to its end, the last one where it was opened again since."""
    rows = BatchEnd.objects.filter(at.own(), sign=1).order_by("pk").values_list("batch_id", "happened_at")
    return {batch_id: timezone.localtime(happened_at).date() for batch_id, happened_at in rows}


def drawn(at: Instant) -> dict[int, tuple[int, int]]:
    """What each batch had drawn: millionths, and of what is weighed into the pot the µg."""
    rows = at.standing(Draw.objects.order_by(), "movement__posting").values_list("batch")
    weighed = Sum("movement__quantity", filter=DRAWN_INTO_THE_POT, default=0)
    return {
        batch_id: (-value, -ug)
        for batch_id, value, ug in rows.annotate(worth=Sum("movement__value"), ug=weighed)
    }


def given(at: Instant) -> dict[int, tuple[int, int]]:
    """What of its material each batch had given to what it made, and what of that to recovered melt, in millionths.

    What was put right after goods had left counts: it was a cost of the period.
    """
    passed: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    # Named by their lots, so that those are read by the index and not every movement.
    lots = Outcome.objects.exclude(lot=None).order_by().values("lot")
    kinds = (Movement.Kind.MADE, Movement.Kind.REVALUED)
    made = Movement.objects.filter(at.of(), kind__in=kinds, lot__in=lots)
    costs = PeriodCost.objects.filter(at.of(), lot__in=lots)
    melt = Q(lot__outcome__result=Outcome.Result.MELT)
    for rows in (made, costs):
        sums = rows.order_by().values_list("lot__outcome__batch")
        for batch_id, value, of_melt in sums.annotate(
            worth=Sum("value"), of_melt=Sum("value", filter=melt, default=0)
        ):
            passed[batch_id][0] += value
            passed[batch_id][1] += of_melt
    return {batch_id: (value, of_melt) for batch_id, (value, of_melt) in passed.items()}


def outcomes(at: Instant) -> list[tuple[int, str, int, int | None]]:
    """Every line of a yield that stood: batch, result, base units, and the lot it became."""
    rows = at.standing(Outcome.objects.order_by("pk"))
    return list(rows.values_list("batch_id", "result", "quantity", "lot_id"))


def labour(at: Instant) -> list[tuple[int, int, str, date, bool, int]]:
    """Minutes worked by batch, person, task and the day whose rate holds, and whether the person was the owner then."""
    rows = Labour.objects.filter(worked_on__lte=at.day)
    if at.known:
        rows = rows.filter(recorded_at__lt=at.known)
    # What takes minutes back costs what they did, whenever it counts from.
    rows = rows.annotate(paid_on=Coalesce("takes_back__worked_on", "worked_on"))
    keys = ("batch_id", "person_id", "step", "paid_on", "by_owner")
    return list(rows.order_by().values_list(*keys).annotate(Sum("minutes")))


def made_here() -> list[int]:
    """The items that batches make, by key. Asked first, so that only their lots are read and not every movement."""
    by_formula = FormulaVersion.objects.values("formula__item")
    wanted = Q(made_here=True) | Q(kind=Kind.FINISHED) | Q(pk__in=by_formula)
    return list(Item.objects.filter(wanted).values_list("pk", flat=True))


def carrying(at: Instant, items: Collection[int]) -> dict[int, tuple[int, int, int]]:
    """Of each lot of what is made here: its item, what it had taken in and what it held, in base units."""
    rows = Movement.objects.filter(at.of(), lot__item__in=items).order_by()
    found: dict[int, tuple[int, int, int]] = {}
    for lot_id, item_id, _, quantity in rows.values_list("lot", "lot__item", "kind").annotate(
        Sum("quantity")
    ):
        _, took_in, held = found.get(lot_id, (item_id, 0, 0))
        found[lot_id] = item_id, took_in + max(quantity, 0), held + quantity
    return found


def drawn_of_made(at: Instant, items: Collection[int]) -> list[tuple[int, int, int]]:
    """What batches drew of lots of what is made here: batch, lot and base units."""
    rows = at.standing(Draw.objects.order_by(), "movement__posting")
    of_made = rows.filter(line__item__in=items)
    sums = of_made.values_list("batch", "movement__lot").annotate(taken=Sum("movement__quantity"))
    return [(batch_id, lot_id, -taken) for batch_id, lot_id, taken in sums]


def poured(at: Instant, items: Collection[int]) -> list[tuple[int, int, int]]:
    """Decantings of what is made here: posting, lot, and base units (below zero where they left)."""
    decanted = Movement.objects.filter(lot__item__in=items, kind=Movement.Kind.DECANTED)
    rows = at.standing(decanted.order_by("posting"))
    return list(rows.values_list("posting_id", "lot_id", "quantity"))


def came_back(at: Instant) -> dict[int, int]:
    """Lots that came back from customers, each with the lot it was sent from."""
    rows = at.standing(ReturnLine.objects.order_by(), "goods_return__posting")
    return dict(rows.values_list("lot_id", "source_id"))
