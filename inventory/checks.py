"""What `manage.py check_books` proves about stock: every cached figure again, from facts that never change.

Each check yields sentences; no sentence means that the books agree. A check reads in one pass and keeps no more
than a lot's figures in memory.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from itertools import groupby
from operator import itemgetter

from django.db.models import Count, Exists, F, Max, Min, OuterRef, Q, Sum
from django.db.models.functions import Coalesce

from inventory.documents import checks as paper_checks
from inventory.importing import checks as import_checks
from inventory.ledger import closing as closing_verbs
from inventory.lots import succession
from inventory.models import (
    Closing,
    CountLine,
    DeliveryLine,
    HoldRecord,
    Item,
    LateCost,
    Lot,
    Movement,
    Override,
    OverrideUse,
    Posting,
    StoppedUse,
)
from inventory.models import Count as StockCount
from inventory.purchasing import checks as order_checks
from inventory.replenishment import checks as reorder_checks
from inventory.sales_orders import checks as customer_order_checks
from inventory.shipments import checks as dispatch_checks
from studio import guards
from studio.core.codes import is_valid


def guards_in_place() -> Iterator[str]:
    """The database refuses to change or delete what is append-only."""
    for name in guards.missing():
        yield f"The database's guard {name} is missing. Run manage.py migrate to put it back."


def movements_add_up() -> Iterator[str]:
    """Every lot's quantity and value are the sums of its movements, and it was never below nothing nor used before it came.

    One pass over all movements, lot by lot in the order of time; nothing but the lot at hand is kept in memory.
    """
    rows = Lot.objects.order_by("pk", "movements__posting__happened_at", "-movements__quantity")
    figures = ("movements__posting__happened_at", "movements__quantity", "movements__value")
    # What a lot's lines share comes first, so that lines of one lot lie together.
    each_lot = groupby(
        rows.values_list("pk", "code", "on_hand", "value", "arrived_at", *figures).iterator(chunk_size=5000),
        key=itemgetter(0, 1, 2, 3, 4),
    )
    for (_, code, on_hand, value, arrived_at), lines in each_lot:
        yield from _lot_adds_up(code, on_hand, value, arrived_at, (line[5:] for line in lines))


def _lot_adds_up(
    code: str,
    on_hand: int,
    value: int,
    arrived_at: datetime,
    lines: Iterable[tuple[datetime | None, int, int]],
) -> Iterator[str]:
    """What is wrong with one lot: its cached figures against (time, quantity, value) of its movements in order."""
    level = worth = 0
    below = False
    for happened_at, quantity, moved in lines:
        if happened_at is None:
            break  # a lot without movements: told by receipts_have_deliveries
        level += quantity
        worth += moved
        if level < 0 and not below:
            below = True
            yield f"Lot {code} was at {level} on {happened_at:%Y-%m-%d %H:%M}."
        if happened_at < arrived_at:
            yield f"Something happened to lot {code} on {happened_at:%Y-%m-%d %H:%M}, before it arrived."
    if on_hand != level:
        yield f"Lot {code} shows {on_hand} on hand; its movements sum to {level}."
    if value != worth:
        yield f"Lot {code} shows a value of {value}; its movements sum to {worth}."
    if on_hand == 0 and value:
        yield f"Lot {code} is empty and still worth {value}."
    if not is_valid(code):
        yield f"Lot {code} has a code whose check character is wrong."


def reversals_mirror() -> Iterator[str]:
    """Every reversal is the exact mirror of what it reverses, at the same time or, where the books were closed there, at
    the first moment after.
    """
    reversals = Posting.objects.filter(reverses__isnull=False).order_by("pk")
    after_closing = Closing.objects.filter(
        until=OuterRef("happened_at"), until__gt=OuterRef("reverses__happened_at")
    )
    elsewhere = reversals.exclude(happened_at=F("reverses__happened_at")).exclude(Exists(after_closing))
    for pk in elsewhere.values_list("pk", flat=True):
        yield f"Reversal {pk} does not stand at the time of what it reverses."
    # Both sides of a pair side by side, lot by lot: what is left over of any sum is no mirror.
    rows = Movement.objects.filter(Q(posting__reverses__isnull=False) | Q(posting__reversal__isnull=False))
    pairs = rows.order_by().annotate(pair=Coalesce("posting__reverses", "posting"))
    sums = pairs.values("pair", "lot", "kind").annotate(quantities=Sum("quantity"), worth=Sum("value"))
    left = sums.exclude(quantities=0, worth=0)
    for first in sorted(set(left.values_list("pair", flat=True))):
        yield f"Posting {first} and its reversal are not mirrors of each other."


def closed_books_stand() -> Iterator[str]:
    """What stood on the shelf when the books were closed still comes out the same, item by item."""
    for closing in Closing.objects.order_by("until"):
        kept = {row.item_id: (row.quantity, row.value) for row in closing.stock.all()}
        now = {
            item_id: (quantity, value)
            for item_id, quantity, value in closing_verbs.stock_before(closing.until)
        }
        wrong = sorted(
            item_id for item_id in kept.keys() | now.keys() if kept.get(item_id) != now.get(item_id)
        )
        for name in Item.objects.filter(pk__in=wrong).values_list("name", flat=True):
            yield f"The books were closed through {closing.through}; what there was of {name} then comes out otherwise now."


# What each kind of posting moves; what earlier records brought in may be of any kind.
MOVES: dict[str, set[Movement.Kind]] = {
    Posting.Kind.RECEIPT: {Movement.Kind.RECEIVED},
    Posting.Kind.OPENING: {Movement.Kind.RECEIVED},
    Posting.Kind.DECANT: {Movement.Kind.DECANTED, Movement.Kind.SCRAPPED, Movement.Kind.FOUND},
    Posting.Kind.DRAW: {Movement.Kind.DRAWN, Movement.Kind.FOUND},
    Posting.Kind.YIELD: {Movement.Kind.MADE},
    Posting.Kind.DISPATCH: {Movement.Kind.DISPATCHED},
    Posting.Kind.RETURN: {Movement.Kind.RETURNED},
    Posting.Kind.SCRAP: {Movement.Kind.SCRAPPED, Movement.Kind.FOUND},
    Posting.Kind.SAMPLE: {Movement.Kind.SAMPLED, Movement.Kind.FOUND},
    Posting.Kind.SENT_BACK: {Movement.Kind.SENT_BACK, Movement.Kind.FOUND},
    Posting.Kind.FOUND: {Movement.Kind.FOUND},
    Posting.Kind.CORRECTION: {Movement.Kind.CORRECTED},
    Posting.Kind.COUNT: {Movement.Kind.COUNTED},
    Posting.Kind.REVALUATION: {Movement.Kind.REVALUED},
}
COMES_IN = {Movement.Kind.RECEIVED, Movement.Kind.MADE, Movement.Kind.FOUND, Movement.Kind.RETURNED}
GOES_OUT = {
    Movement.Kind.DRAWN,
    Movement.Kind.DISPATCHED,
    Movement.Kind.SCRAPPED,
    Movement.Kind.SAMPLED,
    Movement.Kind.SENT_BACK,
}


def movements_fit_their_postings() -> Iterator[str]:
    """What a posting moved is of its own kind and goes the way of it; what was found and a new cost of it count along."""
    kinds = Movement.objects.filter(posting__reverses__isnull=True).order_by()
    seen = kinds.values("posting__kind", "kind").annotate(
        first=Min("posting"), least=Min("quantity"), most=Max("quantity")
    )
    for row in seen.order_by("posting__kind", "kind"):
        kind, of = row["kind"], row["posting__kind"]
        if of in MOVES and kind not in MOVES[of]:
            yield f"Posting {row['first']} is a {of} and has something {kind}."
        if (kind in COMES_IN and row["least"] <= 0) or (kind in GOES_OUT and row["most"] >= 0):
            yield f"Among what was {kind} something goes the wrong way."


def deliveries_add_up() -> Iterator[str]:
    """What a delivery line says arrived, and cost with its freight, is what its lots were received with."""
    received = Q(lots__movements__kind=Movement.Kind.RECEIVED) & Q(
        lots__movements__posting=F("delivery__posting")
    )
    lines = DeliveryLine.objects.annotate(
        came=Sum("lots__movements__quantity", filter=received),
        worth=Sum("lots__movements__value", filter=received),
    )
    for line in lines.order_by("pk").iterator():
        if line.came != line.quantity or line.worth != line.landed_value:
            yield f"Delivery {line.delivery_id}: line {line.pk} and the lots it became do not agree."


def late_costs_add_up() -> Iterator[str]:
    """What a cost billed later added to lots and to the period is its amount."""
    joined = dict(
        LateCost.objects.order_by().values_list("pk").annotate(total=Sum("posting__movements__value"))
    )
    period = dict(
        LateCost.objects.order_by().values_list("pk").annotate(total=Sum("posting__period_costs__value"))
    )
    for pk, delivery_id, amount in LateCost.objects.order_by("pk").values_list("pk", "delivery_id", "amount"):
        if (joined[pk] or 0) + (period[pk] or 0) != amount:
            yield f"Delivery {delivery_id}: cost {pk}, billed later, and where it went do not agree."


def decantings_balance() -> Iterator[str]:
    """What was decanted left one side as it came to the other, in quantity and in value."""
    poured = Movement.objects.filter(kind=Movement.Kind.DECANTED).order_by().values("posting")
    sums = poured.annotate(quantities=Sum("quantity"), worth=Sum("value"))
    for posting_id in sums.exclude(quantities=0, worth=0).values_list("posting", flat=True):
        yield f"Decanting {posting_id} does not balance."


def holds_agree() -> Iterator[str]:
    """A lot is held exactly when the latest record says so."""
    # By key, not by time: a clock that was set back does not change which record came last.
    latest: dict[int, bool] = dict(HoldRecord.objects.order_by("pk").values_list("lot_id", "held"))
    for pk, code, held in Lot.objects.order_by("pk").values_list("pk", "code", "held").iterator():
        if held is not latest.get(pk, False):
            yield f"Lot {code} is {'held' if held else 'free'}; its last record says otherwise."


def overrides_agree() -> Iterator[str]:
    """A lot is allowed until the day its latest override says, and every use of one names a lot of its posting."""
    latest: dict[int, date | None] = dict(Override.objects.order_by("pk").values_list("lot_id", "until"))
    allowed = Lot.objects.filter(Q(allowed_until__isnull=False) | Q(overrides__isnull=False)).distinct()
    for pk, code, until in allowed.order_by("pk").values_list("pk", "code", "allowed_until"):
        if until != latest.get(pk):
            yield f"Lot {code} is allowed until {until}; its last override says otherwise."
    taken = Movement.objects.filter(posting=OuterRef("posting"), lot=OuterRef("override__lot"))
    for pk in OverrideUse.objects.exclude(Exists(taken)).values_list("posting", flat=True):
        yield f"Posting {pk} names an override of a lot it did not take."
    stopped = Movement.objects.filter(posting=OuterRef("posting"), lot=OuterRef("lot"), kind="drawn")
    for pk in StoppedUse.objects.exclude(Exists(stopped)).values_list("posting", flat=True):
        yield f"Posting {pk} says that it took a lot that was stopped, and took none of it."


def counts_agree() -> Iterator[str]:
    """Every count in the books has lines, and its posting puts right only lots that were counted."""
    for pk in Posting.objects.filter(kind=Posting.Kind.COUNT, count=None).values_list("pk", flat=True):
        yield f"Count posting {pk} belongs to no count."
    ended = StockCount.objects.order_by("pk")
    odd = ended.filter(posting__isnull=False).exclude(posting__kind=Posting.Kind.COUNT, state="posted")
    for pk in odd.values_list("pk", flat=True):
        yield f"Count {pk} names a posting that is not its own."
    looked = CountLine.objects.filter(count=OuterRef("pk"), counted__isnull=False)
    for pk in ended.filter(~Exists(looked), state="posted").values_list("pk", flat=True):
        yield f"Count {pk} is in the books and nothing was counted in it."
    counted = CountLine.objects.filter(
        count__posting=OuterRef("posting"), lot=OuterRef("lot"), counted__isnull=False
    )
    moved = Movement.objects.filter(kind=Movement.Kind.COUNTED, posting__reverses__isnull=True)
    for pk in moved.exclude(Exists(counted)).order_by("pk").values_list("pk", flat=True):
        yield f"Movement {pk} puts right a lot that was not counted."
    other = Movement.objects.filter(posting__kind=Posting.Kind.COUNT).exclude(kind=Movement.Kind.COUNTED)
    for pk in other.order_by("pk").values_list("pk", flat=True):
        yield f"Movement {pk} of a count is no count difference."


def receipts_have_deliveries() -> Iterator[str]:
    """Every receipt belongs to a delivery and every dispatch names where it went."""
    lost = Posting.objects.filter(kind=Posting.Kind.RECEIPT, delivery__isnull=True)
    for pk in lost.values_list("pk", flat=True):
        yield f"Receipt {pk} belongs to no delivery."
    for pk in Posting.objects.filter(kind=Posting.Kind.DISPATCH, dispatch__isnull=True).values_list(
        "pk", flat=True
    ):
        yield f"Dispatch posting {pk} does not say where it went."
    made = Lot.objects.annotate(moves=Count("movements")).filter(moves=0)
    for code in made.values_list("code", flat=True):
        yield f"Lot {code} never had a movement."


def codes_lead_somewhere() -> Iterator[str]:
    """Every lot code ever given out leads somewhere: something brought the lot and stands, or it leads on to lots that
    stand, or whoever reversed what brought it said why."""
    came = Movement.objects.filter(lot=OuterRef("pk"), quantity__gt=0, posting__reverses__isnull=True)
    for code in Lot.objects.filter(~Exists(came)).order_by("pk").values_list("code", flat=True):
        yield f"Lot {code} was brought by nothing."
    gone = list(succession.ended(Lot.objects.order_by("pk")).values_list("pk", flat=True))
    for ending in succession.endings(gone).values():
        if not ending.lots and not ending.reversal.reason:
            yield f"Lot {ending.lot.code} leads nowhere, and nobody said why."


CHECKS = (
    guards_in_place,
    movements_add_up,
    reversals_mirror,
    movements_fit_their_postings,
    closed_books_stand,
    deliveries_add_up,
    late_costs_add_up,
    decantings_balance,
    holds_agree,
    overrides_agree,
    counts_agree,
    receipts_have_deliveries,
    codes_lead_somewhere,
    *order_checks.CHECKS,
    *customer_order_checks.CHECKS,
    *dispatch_checks.CHECKS,
    *paper_checks.CHECKS,
    *import_checks.CHECKS,
    *reorder_checks.CHECKS,
)
