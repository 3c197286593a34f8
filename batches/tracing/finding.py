"""From whatever is written on a jar, a pail or a paper to the lots and batches it stands for.

A code of ours leads to one lot or batch. A supplier's lot number, a customer's order reference, a purchase order or a
delivery note may stand for several: then each is offered. An order of which nothing came or went yet is named as that.
What nothing carries is held against what is one slip away.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

from django.db.models import Q, QuerySet

from batches.models import Batch, Complaint, Recall
from inventory.lots.succession import standing_for
from inventory.models import CustomerOrder, Delivery, Dispatch, Lot, Movement, Order
from studio.core.codes import near, normalise, spaced
from studio.models import User

REPLACED = "replaced"
AT_MOST = 50
NEAR_AT_MOST = 10
# Of two texts of one length, one wrong character in six or more is near: 2·5/12.
NEAR = 0.8
LOOKED_THROUGH = 2_000


@dataclass(frozen=True)
class TraceStart:
    """A lot or a batch, and what it has to do with what was typed."""

    thing: Lot | Batch
    why: str


@dataclass(frozen=True)
class Paper:
    """An order, a complaint or a recall: what it is, in words, its code, and its page."""

    what: str
    code: str
    url: str


@dataclass(frozen=True)
class Instead:
    """What may have been meant, to be asked for in its place, and what that is."""

    text: str
    what: str


def of_code(code: str) -> Lot | Batch | None:
    """The lot or batch that carries exactly this code."""
    lot = Lot.objects.filter(code=code).select_related("item").first()
    return lot or Batch.objects.with_product().filter(code=code).first()


def found(text: str) -> list[TraceStart]:
    """Everything the text stands for as it is typed, capitals or not; a lot or batch of ours comes alone."""
    code = normalise(text)
    if own := of_code(code):
        return _instead_of(own) or [TraceStart(own, "")]
    lots: dict[int, TraceStart] = {}
    for why, query in _meanings(text, code):
        for lot in _lots(query)[:AT_MOST]:
            lots.setdefault(lot.pk, TraceStart(lot, why))
    return list(lots.values())


def _instead_of(own: Lot | Batch) -> list[TraceStart]:
    """The lots that stand in the place of one whose origin was reversed; none where it stands or leads nowhere."""
    if not isinstance(own, Lot):
        return []
    why = f"{REPLACED} {own.spaced_code}"
    return [TraceStart(lot, why) for lot in standing_for([own]).get(own.pk, [])]


def _meanings(text: str, code: str) -> Iterable[tuple[str, Q]]:
    """What a text may be, in words, and which lots that makes."""
    yield f"supplier's lot {text}", Q(supplier_lot__iexact=text)
    of_delivery = Delivery.objects.filter(reference__iexact=text).values("pk")
    yield f"came with delivery {text}", Q(delivery_line__delivery__in=of_delivery)
    of_order = Order.objects.filter(code=code).values("pk")
    yield f"came for order {spaced(code)}", Q(delivery_line__order_line__order__in=of_order)
    references = Q(reference__iexact=text) | Q(for_order__order__reference__iexact=text)
    yield f"sent out for {text}", _sent_with(Dispatch.objects.filter(references))
    of_customer = Dispatch.objects.filter(for_order__order__code=code)
    yield f"sent out for order {spaced(code)}", _sent_with(of_customer)


def _sent_with(dispatches: QuerySet[Dispatch]) -> Q:
    """Lots that left with these dispatches, those that were reversed left out."""
    sent = Movement.objects.standing().filter(posting__in=dispatches.values("posting"), quantity__lt=0)
    return Q(pk__in=sent.values("lot"))


def _lots(query: Q) -> QuerySet[Lot]:
    return Lot.objects.filter(query).select_related("item", "supplier").order_by("-arrived_at", "-pk")


def papers(text: str, user: User) -> list[Paper]:
    """What carries the text and leads to no lot: orders of which nothing came or went yet, complaints and recalls."""
    code = normalise(text)
    wanted = CustomerOrder.objects.filter(Q(code=code) | Q(reference__iexact=text))[:NEAR_AT_MOST]
    hits = [
        Paper(
            f"customer's order, {each.get_state_display().lower()}: nothing was sent for it yet",
            each.code,
            each.get_absolute_url(),
        )
        for each in wanted
    ]
    hits += [
        Paper(
            f"order to a supplier, {each.get_state_display().lower()}: nothing came for it yet",
            each.code,
            each.get_absolute_url(),
        )
        for each in Order.objects.filter(code=code)
    ]
    if user.makes:
        hits += [
            Paper("complaint", each.code, each.get_absolute_url())
            for each in Complaint.objects.filter(code=code)
        ]
        hits += [
            Paper(each.kind_words.lower(), each.code, each.get_absolute_url())
            for each in Recall.objects.filter(code=code)
        ]
    return hits


def instead(text: str, user: User) -> list[Instead]:
    """Papers one slip away: their codes, and what orders and delivery notes are called that is like it."""
    codes = near(normalise(text))
    kinds: list[tuple[str, QuerySet[Any]]] = [
        ("order to a supplier", Order.objects.all()),
        ("customer's order", CustomerOrder.objects.all()),
    ]
    if user.makes:
        kinds += [("complaint", Complaint.objects.all()), ("recall", Recall.objects.all())]
    found = [
        Instead(each.spaced_code, what)
        for what, rows in kinds
        for each in rows.filter(code__in=codes).order_by("pk")[:NEAR_AT_MOST]
    ]
    for what, rows in (
        ("order reference", CustomerOrder.objects.exclude(reference="")),
        ("delivery note", Delivery.objects.exclude(reference="")),
    ):
        found += [Instead(name, what) for name in _like(text, rows, "reference")]
    return found[:AT_MOST]


def misses(text: str) -> list[TraceStart]:
    """What may have been meant: our codes one slip away, and what suppliers and orders are called that is like it."""
    codes = near(normalise(text))
    hits = [TraceStart(lot, "") for lot in _lots(Q(code__in=codes))[:NEAR_AT_MOST]]
    hits += [
        TraceStart(batch, "") for batch in Batch.objects.filter(code__in=codes).with_product()[:NEAR_AT_MOST]
    ]
    for number in _like(text, Lot.objects.exclude(supplier_lot=""), "supplier_lot"):
        hits += [
            TraceStart(lot, f"supplier's lot {number}")
            for lot in _lots(Q(supplier_lot=number))[:NEAR_AT_MOST]
        ]
    for reference in _like(text, Dispatch.objects.exclude(reference=""), "reference"):
        sent = _sent_with(Dispatch.objects.filter(reference=reference))
        hits += [TraceStart(lot, f"sent out for {reference}") for lot in _lots(sent)[:NEAR_AT_MOST]]
    once: dict[Lot | Batch, TraceStart] = {}
    for hit in hits:
        once.setdefault(hit.thing, hit)
    return list(once.values())[:AT_MOST]


def _like(text: str, rows: QuerySet[Any], field: str) -> list[str]:
    """What the rows hold in a field that is like the text, the likest first, three at the most.

    Only what begins or ends as the text does is looked through: one slip leaves one of the two as it was.
    """
    if len(text) < 3:
        return []
    part = max(len(text) // 2, 2)
    alike = Q(**{f"{field}__istartswith": text[:part]}) | Q(**{f"{field}__iendswith": text[-part:]})
    names = rows.filter(alike).order_by().values_list(field, flat=True).distinct()[:LOOKED_THROUGH]
    plain = text.casefold()
    ranked = [(SequenceMatcher(None, plain, name.casefold()).ratio(), name) for name in names]
    return [name for ratio, name in sorted(ranked, key=lambda pair: (-pair[0], pair[1]))[:3] if ratio >= NEAR]
