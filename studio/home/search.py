"""One box for everything: a code leads straight to its page, a name or a supplier's lot to a short list."""

from dataclasses import dataclass

from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import redirect

from batches.models import Batch, Complaint, Formula, Recall
from inventory.customers.customers import customers_like
from inventory.models import Customer, CustomerOrder, Delivery, Dispatch, Item, Lot, Order, Supplier
from studio.core.codes import is_valid, near, normalise, spaced
from studio.models import User
from studio.people.access import EVERYONE, allow
from studio.web.filters import text_of
from studio.web.pdf import clipped
from studio.web.requests import StudioRequest, answer

AT_MOST = 20


@dataclass(frozen=True)
class Hit:
    """Something found: what it is, its name, a word more, and where it leads."""

    kind: str
    name: str
    more: str
    url: str
    code: str = ""


def by_code(code: str, user: User) -> Hit | None:
    """The lot, batch or order that carries exactly this code."""
    if lot := Lot.objects.filter(code=code).select_related("item").first():
        return Hit("Lot", str(lot.item), "", lot.get_absolute_url(), lot.code)
    if batch := Batch.objects.filter(code=code).with_product().first():
        return Hit("Batch", str(batch.item), "", batch.get_absolute_url(), batch.code)
    if order := Order.objects.filter(code=code).select_related("supplier").first():
        return Hit("Order", str(order.supplier), "", order.get_absolute_url(), order.code)
    if wanted := CustomerOrder.objects.filter(code=code).select_related("customer").first():
        return _ordered(wanted, user)
    return next(iter(_complaints_and_recalls([code], user)), None)


def _complaints_and_recalls(codes: list[str], user: User) -> list[Hit]:
    """Complaints and recalls of these codes, for owner and makers."""
    if not user.makes:
        return []
    complaints = Complaint.objects.filter(code__in=codes).select_related("item")[:AT_MOST]
    hits = [Hit("Complaint", str(one), "", one.get_absolute_url(), one.code) for one in complaints]
    recalls = Recall.objects.filter(code__in=codes)[:AT_MOST]
    return hits + [
        Hit(one.kind_words, clipped(one.why, 80), "", one.get_absolute_url(), one.code) for one in recalls
    ]


def _ordered(order: CustomerOrder, user: User) -> Hit:
    """A customer's order that was found."""
    more = f"{order.get_state_display().lower()}, {order.reference}" if order.reference else ""
    more = more or order.get_state_display().lower()
    return Hit("Order from", order.customer.display_name(user), more, order.get_absolute_url(), order.code)


def near_misses(code: str, user: User) -> list[Hit]:
    """Lots, batches and orders whose code is one slip away."""
    codes = near(code)
    lots = Lot.objects.filter(code__in=codes).select_related("item")[:AT_MOST]
    batches = Batch.objects.filter(code__in=codes).with_product()[:AT_MOST]
    orders = Order.objects.filter(code__in=codes).select_related("supplier")[:AT_MOST]
    hits = [Hit("Lot", str(lot.item), "", lot.get_absolute_url(), lot.code) for lot in lots]
    hits += [Hit("Batch", str(batch.item), "", batch.get_absolute_url(), batch.code) for batch in batches]
    hits += [Hit("Order", str(order.supplier), "", order.get_absolute_url(), order.code) for order in orders]
    wanted = CustomerOrder.objects.filter(code__in=codes).select_related("customer")[:AT_MOST]
    hits += [_ordered(order, user) for order in wanted]
    return hits + _complaints_and_recalls(codes, user)


def by_name(text: str, user: User) -> list[Hit]:
    """Items, formulas, suppliers, papers and suppliers' lots that contain the words."""
    hits = [
        Hit("Item", item.name, item.kind_words, item.get_absolute_url())
        for item in Item.objects.filter(name__icontains=text)[:AT_MOST]
    ]
    hits += [
        Hit("Formula", formula.name, f"makes {formula.item}", formula.get_absolute_url())
        for formula in Formula.objects.filter(name__icontains=text).select_related("item")[:AT_MOST]
    ]
    hits += [
        Hit("Supplier", supplier.name, supplier.contact, supplier.get_absolute_url())
        for supplier in Supplier.objects.filter(name__icontains=text)[:AT_MOST]
    ]
    hits += [
        Hit("Customer", customer.display_name(user), "", customer.get_absolute_url())
        for customer in Customer.objects.filter(name__icontains=text)[: AT_MOST if user.makes else 0]
    ]
    said = Q(reference__icontains=text) | customers_like(text, user, "customer__")
    orders = CustomerOrder.objects.filter(said).select_related("customer").order_by("-pk")[:AT_MOST]
    hits += [_ordered(order, user) for order in orders]
    hits += [
        Hit("Lot", str(lot.item), f"supplier's lot {lot.supplier_lot}", lot.get_absolute_url(), lot.code)
        for lot in Lot.objects.filter(supplier_lot__icontains=text).select_related("item")[:AT_MOST]
    ]
    hits += [
        Hit("Delivery", str(delivery), str(delivery.supplier), delivery.get_absolute_url())
        for delivery in Delivery.objects.filter(reference__icontains=text).select_related("supplier")[
            :AT_MOST
        ]
    ]
    hits += [
        Hit(
            "Sent out",
            dispatch.to_for(user),
            dispatch.reference,
            dispatch.get_absolute_url(),
        )
        for dispatch in Dispatch.objects.filter(reference__icontains=text).select_related("customer")[
            :AT_MOST
        ]
    ]
    return hits


@allow(see=EVERYONE)
def search(request: StudioRequest) -> HttpResponse:
    """Lead to what a code or name stands for, or say what may have been meant."""
    text = text_of(request, "q")
    code = normalise(text)
    looks_like_code = is_valid(code)
    if looks_like_code and (hit := by_code(code, request.user)):
        return redirect(hit.url)
    misses = near_misses(code, request.user) if text else []
    context = {
        "text": text,
        "hits": by_name(text, request.user) if text else [],
        "misses": misses,
        "unknown_code": spaced(code) if looks_like_code else "",
    }
    return answer(request, "studio/search.html", context)
