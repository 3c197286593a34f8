"""What `manage.py check_books` proves about stock: every cached figure again, from facts that never change.

Each check yields sentences; no sentence means that the books agree. A check reads in one pass and keeps no more
than a lot's figures in memory.
"""

from collections.abc import Iterator
from datetime import date

from django.db.models import Count, Exists, F, OuterRef, Q, Sum
from django.db.models.functions import Coalesce

from inventory.models import DeliveryLine, HoldRecord, LateCost, Lot, Movement, Override, OverrideUse, Posting
from studio import guards
from studio.codes import is_valid


def guards_in_place() -> Iterator[str]:
    """The database refuses to change or delete what is append-only."""
    for name in guards.missing():
        yield f"The database's guard {name} is missing. Run manage.py migrate to put it back."


def balances() -> Iterator[str]:
    """Every lot's quantity and value are the sums of its movements."""
    derived = Lot.objects.annotate(
        quantity_moved=Sum("movements__quantity"), value_moved=Sum("movements__value")
    )
    rows = derived.order_by("pk").values_list("code", "on_hand", "value", "quantity_moved", "value_moved")
    for code, on_hand, value, quantity_moved, value_moved in rows.iterator():
        if on_hand != (quantity_moved or 0):
            yield f"Lot {code} shows {on_hand} on hand; its movements sum to {quantity_moved or 0}."
        if value != (value_moved or 0):
            yield f"Lot {code} shows a value of {value}; its movements sum to {value_moved or 0}."
        if on_hand == 0 and value:
            yield f"Lot {code} is empty and still worth {value}."
        if not is_valid(code):
            yield f"Lot {code} has a code whose check character is wrong."


def never_below_zero() -> Iterator[str]:
    """No lot was below nothing at any time, and nothing happened to one before it arrived."""
    rows = Movement.objects.order_by("lot_id", "posting__happened_at", "-quantity").values_list(
        "lot_id", "lot__code", "lot__arrived_at", "posting__happened_at", "quantity"
    )
    current, level, told = None, 0, False
    for lot_id, code, arrived_at, happened_at, quantity in rows.iterator():
        if lot_id != current:
            current, level, told = lot_id, 0, False
        level += quantity
        if level < 0 and not told:
            told = True
            yield f"Lot {code} was at {level} on {happened_at:%Y-%m-%d %H:%M}."
        if happened_at < arrived_at:
            yield f"Something happened to lot {code} on {happened_at:%Y-%m-%d %H:%M}, before it arrived."


def reversals_mirror() -> Iterator[str]:
    """Every reversal is the exact mirror of what it reverses, at the same time."""
    reversals = Posting.objects.filter(reverses__isnull=False).order_by("pk")
    for pk in reversals.exclude(happened_at=F("reverses__happened_at")).values_list("pk", flat=True):
        yield f"Reversal {pk} does not stand at the time of what it reverses."
    # Both sides of a pair side by side, lot by lot: what is left over of any sum is no mirror.
    rows = Movement.objects.filter(Q(posting__reverses__isnull=False) | Q(posting__reversal__isnull=False))
    pairs = rows.order_by().annotate(pair=Coalesce("posting__reverses", "posting"))
    sums = pairs.values("pair", "lot", "kind").annotate(quantities=Sum("quantity"), worth=Sum("value"))
    left = sums.exclude(quantities=0, worth=0)
    for first in sorted(set(left.values_list("pair", flat=True))):
        yield f"Posting {first} and its reversal are not mirrors of each other."


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


CHECKS = (
    guards_in_place,
    balances,
    never_below_zero,
    reversals_mirror,
    deliveries_add_up,
    late_costs_add_up,
    decantings_balance,
    holds_agree,
    overrides_agree,
    receipts_have_deliveries,
)
