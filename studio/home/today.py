"""The Today page: what needs a hand now, each one press from being done, then the week in small charts."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import F, Max, Prefetch, Q
from django.http import HttpResponse
from django.template.defaultfilters import date as date_words
from django.urls import reverse
from django.utils import timezone

from batches.burn_tests.record import burns_on
from batches.models import Batch, BurnTest, Complaint, Recall
from costing.valuation.closing import waits_to_be_closed
from inventory.counting.figures import due, tallies
from inventory.documents.queries import without_sheet
from inventory.items.stock import items_with_stock
from inventory.models import Count, Grade, Kind, Lot, Movement, Order, Posting, StoppedUse
from inventory.replenishment import forecast_text as reorder_words
from inventory.replenishment.at_a_glance import to_order
from inventory.sales_orders.order_standing import standings
from studio.home.week_charts import week_charts
from studio.models import User
from studio.people.access import EVERYONE, OWNER, allow
from studio.web import requests
from studio.web.pdf import clipped
from studio.web.requests import StudioRequest

SOON_DAYS = 21
READY_SINCE_DAYS = 7
ORDERS_DAYS = 7
AT_MOST = 12
NAMED = 3
TO_ORDER_AT_MOST = 6


@dataclass(frozen=True)
class Task:
    """One thing that needs a hand: its state, what it is, and the press that does it; for makers, at the bench."""

    tone: str
    word: str
    what: str
    more: str
    url: str
    press: str
    at_bench: str = ""


def tasks(day: date, user: User) -> list[Task]:
    """Everything that waits, most pressing first. A fixed number of queries."""
    waiting = (
        _recalls(user),
        _complaints(user),
        _to_review(),
        _runs(day),
        _burning(),
        _ordered(day, user),
        _wanting(day),
        _to_order(day),
        _orders(day),
        _counts(day),
        _shelf(day),
        _papers(day),
        _to_close(day, user),
    )
    return [task for found in (*waiting, _to_release(day), _ready(day)) for task in found]


def _recalls(user: User) -> Iterable[Task]:
    """Recalls and drills that are not closed."""
    if not user.makes:
        return
    for recall in Recall.objects.filter(state=Recall.State.OPEN)[:AT_MOST]:
        begun = date_words(timezone.localtime(recall.started_at), "D j M, H:i")
        yield Task(
            recall.tone,
            recall.kind_words,
            clipped(recall.why, 100),
            f"{recall.spaced_code}, begun {begun}",
            recall.get_absolute_url(),
            "Go on",
        )


def _complaints(user: User) -> Iterable[Task]:
    """Complaints that nobody closed, the grave ones first."""
    if not user.makes:
        return
    open_ones = Complaint.objects.waiting().with_candle().order_by("told_at", "pk")
    waiting = sorted(
        open_ones[: 4 * AT_MOST], key=lambda each: (not each.is_grave, not each.may_be_reportable)
    )
    for complaint in waiting[:AT_MOST]:
        told = date_words(timezone.localtime(complaint.told_at), "D j M")
        step = "" if complaint.is_known else ", the lot is still to be found"
        step += ", may have to be reported" if complaint.may_be_reportable else ""
        yield Task(
            complaint.tone,
            "Complaint" if complaint.state == Complaint.State.OPEN else "Answered",
            f"{complaint.get_kind_display()}: {complaint.item}",
            f"{complaint.spaced_code}, told {told}{step}",
            f"{complaint.get_absolute_url()}{'' if complaint.state == Complaint.State.OPEN else '#settle'}",
            "Open" if complaint.state == Complaint.State.OPEN else "Close",
        )


def _runs(day: date) -> Iterable[Task]:
    for batch in Batch.objects.unfinished().with_product().order_by("-state", "planned_on")[:AT_MOST]:
        amount = batch.item.quantity(batch.quantity)
        what = f"{batch.item} × {amount}" if batch.version.fill_ug else f"{batch.item}, {amount}"
        if batch.state == Batch.State.STARTED:
            yield Task(
                "attention",
                "In progress",
                what,
                f"batch {batch.spaced_code}",
                batch.get_absolute_url(),
                "Go on",
                at_bench=reverse("batches:batch-bench", args=[batch.code]),
            )
        else:
            late = batch.planned_on < day
            more = f"batch {batch.spaced_code}, planned for {date_words(batch.planned_on, 'D j M')}"
            yield Task(
                "problem" if late else "plain",
                "Overdue" if late else "Planned",
                what,
                more,
                batch.get_absolute_url(),
                "Open",
            )


def _burning() -> Iterable[Task]:
    """Burn tests that nobody decided yet."""
    tests = BurnTest.objects.running().with_product()
    read = Max("jars__readings__cycle", filter=Q(jars__readings__struck_at=None))
    ordered = tests.order_by("started_at", "pk")
    rows: Iterable[Any] = ordered.annotate(cycles_read=read, burns_on=burns_on())[:AT_MOST]
    for test in rows:
        following = (
            f"cycle {(test.cycles_read or 0) + 1} is next" if test.burns_on else "burned to its end, decide"
        )
        yield Task(
            "attention",
            "Burning",
            f"Burn test of {test.version}",
            f"begun {date_words(timezone.localtime(test.started_at), 'D j M')}, {following}",
            test.get_absolute_url(),
            "Go on",
        )


def _to_review() -> Iterable[Task]:
    for posting in (
        Posting.objects.to_review()
        .select_related("by")
        .prefetch_related(
            Prefetch("movements", Movement.objects.select_related("lot__item")),
            Prefetch("stopped_uses", StoppedUse.objects.select_related("lot__item")),
        )[:AT_MOST]
    ):
        for use in posting.stopped_uses.all():
            yield Task(
                "problem",
                "Look at",
                f"{use.lot.item} went in from a lot that was {use.get_stop_display()}",
                f"lot {use.lot.spaced_code}, by {posting.by}: {use.reason}",
                posting.get_absolute_url(),
                "Look",
            )
        found = [movement for movement in posting.movements.all() if movement.kind == Movement.Kind.FOUND]
        for movement in found:
            lot = movement.lot
            yield Task(
                "attention",
                "Look at",
                f"{lot.item.quantity(movement.quantity)} of {lot.item} booked as found",
                f"lot {lot.spaced_code}, by {posting.by}",
                posting.get_absolute_url(),
                "Look",
            )


def _shelf(day: date) -> Iterable[Task]:
    soon = day + timedelta(days=SOON_DAYS)
    lots = Lot.objects.expiring(soon).select_related("item").first_to_expire()[:AT_MOST]
    for lot in lots:
        gone = lot.expired(day)
        more = f"lot {lot.spaced_code}, {'since' if gone else 'on'} {date_words(lot.expires_on, 'j M Y')}"
        what = f"{lot.item.quantity(lot.on_hand)} of {lot.item}"
        tone, word = lot.state(day) if gone else ("attention", "Expires")
        yield Task(
            tone,
            word,
            what,
            more,
            lot.get_absolute_url(),
            "Open",
        )
    for lot in (
        Lot.objects.on_shelf()
        .filter(held=True)
        .select_related("item")
        .prefetch_related("hold_records")[:AT_MOST]
    ):
        record = next(iter(lot.hold_records.all()), None)
        why = f": {record.reason}" if record else ""
        yield Task(
            *lot.state(day),
            f"{lot.item.quantity(lot.on_hand)} of {lot.item}",
            f"lot {lot.spaced_code}{why}",
            lot.get_absolute_url(),
            "Open",
        )


def _candles(lot: Lot) -> str:
    return f"{lot.item.quantity(lot.on_hand)} × {lot.item}{', seconds' if lot.grade == Grade.SECOND else ''}"


def _to_release(day: date) -> Iterable[Task]:
    """Goods that have cured and wait for somebody to look at them."""
    lots = Lot.objects.on_shelf().filter(awaits_release=True, held=False).select_related("item")
    for lot in lots.exclude(ready_on__gt=day).order_by("ready_on", "pk")[:AT_MOST]:
        since = f", cured since {date_words(lot.ready_on, 'D j M')}" if lot.ready_on else ""
        yield Task(
            "attention",
            "To be released",
            _candles(lot),
            f"lot {lot.spaced_code}{since}",
            reverse("batches:lot-release", args=[lot.code]),
            "Release",
        )


def _ready(day: date) -> Iterable[Task]:
    since = day - timedelta(days=READY_SINCE_DAYS)
    lots = (
        Lot.objects.on_shelf()
        .filter(item__kind=Kind.FINISHED, ready_on__range=(since, day))
        .select_related("item")
    )
    for lot in lots.filter(awaits_release=False).order_by("ready_on", "pk")[:AT_MOST]:
        yield Task(
            "good",
            "Cured",
            _candles(lot),
            f"lot {lot.spaced_code}, ready since {date_words(lot.ready_on, 'D j M')}",
            lot.get_absolute_url(),
            "Open",
        )


def _ordered(day: date, user: User) -> Iterable[Task]:
    """Customers' orders that are late, due within a week, or wholly ready."""
    soon = day + timedelta(days=ORDERS_DAYS)
    due = sorted(standings(day).values(), key=lambda lines: (lines[0].line.order.wanted_on, lines[0].line.pk))
    for lines in due[:AT_MOST]:
        order = lines[0].line.order
        left = [line for line in lines if line.left]
        ready = all(line.ready == line.left for line in left)
        if order.wanted_on > soon and not ready:
            continue
        late = order.wanted_on < day
        wanted = ", ".join(f"{line.left} × {line.item}" for line in left)
        pour = sum(line.to_pour for line in left)
        how = "all ready" if ready else f"{pour} still to be poured" if pour else "in the making"
        yield Task(
            "problem" if late else "attention",
            "Order overdue" if late else "Order due",
            f"{wanted} for {order.customer.display_name(user)}",
            f"order {order.spaced_code}, wanted {date_words(order.wanted_on, 'D j M')}, {how}",
            reverse("inventory:customer-order-send", args=[order.code])
            if ready
            else order.get_absolute_url(),
            "Send" if ready else "Open",
        )


def _wanting(day: date) -> Iterable[Task]:
    # Of goods that customers want the orders speak.
    materials = items_with_stock(day).exclude(kind=Kind.FINISHED)
    for item in materials.filter(committed__gt=F("usable")).order_by("name"):
        if short := item.committed - item.usable:
            yield Task(
                "problem",
                "Short",
                f"{item.quantity(short)} of {item} missing",
                f"{item.quantity(item.committed)} promised to planned runs, "
                f"{item.quantity(item.usable)} free to use",
                item.get_absolute_url(),
                "Open",
            )


def _to_order(day: date) -> Iterable[Task]:
    """What has to be ordered within the week, the last day named; beyond a few, one line for the rest."""
    found, unclear = to_order(day)
    for each in found[:TO_ORDER_AT_MOST]:
        late = each.order_in is not None and each.order_in <= 0
        best = each.best
        proposed = f"{best.packs_words} from {best.source.supplier}. " if best else ""
        yield Task(
            "problem" if late else "attention",
            reorder_words.state_of(each)[1] if late else f"Order by {date_words(each.order_by, 'D j M')}",
            str(each.item),
            f"{proposed}{reorder_words.why(each)}",
            reverse("inventory:item-reorder", args=[each.item.pk]),
            "Look",
        )
    if found:
        yield Task(
            "attention",
            "To buy",
            f"{len(found)} item{'' if len(found) == 1 else 's'} to order within a week",
            "grouped by supplier, drafted in one press",
            reverse("inventory:purchase-list"),
            "Draft",
        )
    if unclear:
        names = ", ".join(str(each.item) for each in unclear[:NAMED])
        more = f" and {len(unclear) - NAMED} more" if len(unclear) > NAMED else ""
        yield Task(
            "attention",
            "No lead time",
            f"By when to order {len(unclear)} item{'' if len(unclear) == 1 else 's'} cannot be said",
            f"{names}{more}: running out, and nobody knows how long a delivery takes",
            f"{reverse('inventory:reorder-list')}?show=missing",
            "Look",
        )


def _counts(day: date) -> Iterable[Task]:
    """Counts that are not in the books yet, and one line for all that is due."""
    opened = list(Count.objects.being_counted().select_related("started_by")[:AT_MOST])
    for count, found in tallies(opened):
        so_far = f"{found.counted} of {found.lots} lots counted"
        yield Task(
            "attention",
            "Being counted",
            count.what,
            f"{so_far}{', blind' if count.blind else ''}, begun by {count.started_by}",
            count.get_absolute_url(),
            "Go on",
        )
    if waiting := due(day):
        letters = sorted({each.rule.letter for each in waiting})
        yield Task(
            "plain",
            "To count",
            f"{len(waiting)} item{'' if len(waiting) == 1 else 's'} due for counting",
            f"class{'' if len(letters) == 1 else 'es'} {' and '.join(letters)}",
            reverse("inventory:count-list"),
            "Open",
        )


def _papers(day: date) -> Iterable[Task]:
    """One line for all items that should have a safety data sheet and have none."""
    names = list(without_sheet(day).values_list("name", flat=True))
    if names:
        several = len(names) > 1
        more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
        yield Task(
            "attention",
            "Missing",
            f"{len(names)} items have no safety data sheet" if several else "1 item has no safety data sheet",
            ", ".join(names[:NAMED]) + more,
            f"{reverse('inventory:document-list')}?show=missing",
            "Open",
        )


def _to_close(day: date, user: User) -> Iterable[Task]:
    """Books that are closed from time to time, and are not yet closed through what is over since."""
    if user.role in OWNER and (waits := waits_to_be_closed(day)):
        closed, due = (date_words(each, "j M Y") for each in waits)
        yield Task(
            "plain",
            "To close",
            f"The books through {due}",
            f"closed through {closed} so far",
            reverse("costing:closing-list"),
            "Look",
        )


def _orders(day: date) -> Iterable[Task]:
    """Orders that should have come, and those expected within a week."""
    soon = day + timedelta(days=ORDERS_DAYS)
    orders: Any = (
        Order.objects.sent().filter(expected_on__lte=soon).select_related("supplier").with_progress()
    )
    for order in orders.order_by("expected_on", "pk")[:AT_MOST]:
        late = order.expected_on is not None and order.expected_on < day
        lines = f"{order.line_count} line{'' if order.line_count == 1 else 's'}"
        came = ", part received" if order.arrival_count else ""
        yield Task(
            "problem" if late else "plain",
            "Overdue" if late else "Expected",
            f"Order from {order.supplier}",
            f"order {order.spaced_code}, {lines}{came}, expected {date_words(order.expected_on, 'D j M')}",
            order.get_absolute_url(),
            "Open",
        )


@allow(see=EVERYONE)
def today(request: StudioRequest) -> HttpResponse:
    """What needs a hand now, and the week."""
    day = requests.today()
    context = {
        "day": day,
        "tasks": tasks(day, request.user),
        "charts": week_charts(day),
        "empty_books": not Posting.objects.exists(),
        "plan_url": reverse("batches:batch-plan"),
    }
    return requests.answer(request, "studio/today.html", context)
