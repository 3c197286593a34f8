"""The purchase list by supplier, with one press to draft its orders; and what holds for buying."""

from typing import Any, NamedTuple

from django.contrib import messages
from django.db import transaction
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from inventory.models import Item, Posting, Supplier
from inventory.purchasing.ordering import OrderError
from inventory.replenishment import facts, forecast_text, one_offs
from inventory.replenishment import purchase_list as purchase
from inventory.replenishment import rules as rules_of
from inventory.replenishment.forms import ItemRulesForm, RulesForm, TermsForm
from inventory.replenishment.outlooks import outlooks
from studio.models import Studio
from studio.people.access import EVERYONE, MAKERS, OWNER, allow
from studio.web import tables
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

LINES_AT_MOST = 500


@allow(see=EVERYONE, do=MAKERS)
def purchase_list(request: StudioRequest) -> HttpResponse:
    """What is due, by supplier; pressed, what is ticked becomes drafts."""
    rules = rules_of.in_force()
    if request.method == "POST":
        return _drafted(request, rules)
    return _purchase_page(request, rules)


def _purchase_page(request: StudioRequest, rules: rules_of.Rules, refused: str = "") -> HttpResponse:
    day = today()
    found = outlooks(facts.read(day, window=rules.window_days), rules)
    listed = purchase.baskets(found.values(), rules)
    if tables.wanted(request):
        lines = (Proposal(basket, line) for basket in listed for line in basket.lines)
        return PROPOSALS.file(request, lines)
    typed = request.POST if refused else request.GET if "reckon" in request.GET else None
    if typed is not None:
        listed = purchase.as_ticked(listed, set(typed.getlist("take")), _packs_typed(typed))
    shown: dict[str, Any] = typed.dict() if typed is not None else {}
    context = {
        "baskets": [
            (
                basket,
                [
                    (line, shown.get(f"packs-{line.key}", line.packs), basket.enough_of(line))
                    for line in basket.lines
                ],
            )
            for basket in listed
        ],
        "reckoned": typed is not None,
        "unclear": [
            (each, forecast_text.why(each), forecast_text.missing_of(each))
            for each in forecast_text.by_urgency(found.values())
            if forecast_text.cannot_be_said(each)
        ],
        "drafted": [each for each in found.values() if each.known.drafted and each.may_be_bought],
        "rules": rules,
        "refused": refused,
        "day": day,
    }
    return answer(request, "inventory/purchase_list.html", context, refused=bool(refused))


def _packs_typed(typed: QueryDict) -> dict[str, int]:
    """Packs by line, as far as they can be read."""
    found = {name.removeprefix("packs-"): text for name, text in typed.items() if name.startswith("packs-")}
    read = {key: str(text).strip() for key, text in found.items()}
    return {key: min(int(text), purchase.PACKS_AT_MOST) for key, text in read.items() if _whole(text)}


def _drafted(request: StudioRequest, rules: rules_of.Rules) -> HttpResponse:
    try:
        chosen = _chosen(request)

        def act() -> str:
            orders = purchase.draft_orders(chosen, rules=rules, signature=sign(request))
            several = len(orders) > 1
            messages.success(
                request,
                f"{len(orders)} drafts are written, one for each supplier. Look them over and send them."
                if several
                else f"Draft {orders[0].spaced_code} is written. Look it over and send it.",
            )
            return (
                f"{reverse('inventory:order-list')}?state=draft" if several else orders[0].get_absolute_url()
            )

        return redirect(once(request, act))
    except OrderError as error:
        return _purchase_page(request, rules, refused=str(error))


def _chosen(request: StudioRequest) -> dict[str, int]:
    """Packs by line, of those ticked. Raises OrderError for what cannot be read."""
    chosen: dict[str, int] = {}
    items: set[str] = set()
    for key in request.POST.getlist("take")[:LINES_AT_MOST]:
        item_id, _, source = key.partition(":")
        text = request.POST.get(f"packs-{key}", "").strip()
        if not (_whole(item_id) and _whole(source.removeprefix("-"))):
            raise OrderError("The list changed meanwhile. Open it anew.")
        if item_id in items:
            raise OrderError("Tick each item once: of one supplier, or of the other.")
        items.add(item_id)
        if not _whole(text) or not int(text):
            raise OrderError(
                "Enter how many packs as a whole number above zero, beside every line that is ticked."
            )
        chosen[key] = int(text)
    return chosen


def _whole(text: str) -> bool:
    # Without leading noughts, so that one number is written in one way.
    return text.isascii() and text.isdigit() and len(text) < 16 and str(int(text)) == text


class Proposal(NamedTuple):
    """A line that is proposed, and the supplier's basket it lies in."""

    basket: purchase.Basket
    line: purchase.Line

    @property
    def item(self) -> Item:
        """What would be bought."""
        return self.line.item


PROPOSALS = Table(
    "purchase-list",
    "Purchase list",
    [
        Column("Supplier", "basket.supplier.name"),
        Column("Item", "item.name"),
        Column("Packs", "line.choice.option.packs", Format.NUMBER),
        Column("Pack", "line.choice.source.typed_pack"),
        Column("Unit", "item.unit"),
        Column("Order", "line.choice.option.quantity", Format.QUANTITY),
        Column("Order by", "line.outlook.order_by", Format.DAY),
        Column("Proposed", "line.taken", Format.YES),
        Column("Why", "line.because"),
        Column("Price per pack", "line.choice.option.price", Format.PRICE, may="sees_costs"),
        Column("Goods", "line.choice.option.goods", Format.MONEY, may="sees_costs"),
    ],
)


# What holds for buying


@allow(see=OWNER, do=OWNER)
def reorder_rules(request: StudioRequest) -> HttpResponse:
    """The studio's rules of buying."""
    kept = rules_of.row()
    form = RulesForm(request.POST or None, instance=kept, currency=request.studio.currency)
    if request.method == "POST" and form.is_valid():
        rules_of.set_rules(
            {name: form.cleaned_data[name] for name in rules_of.FIELDS}
            if kept.set_at is None
            else {name: form.cleaned_data[name] for name in form.changed_columns()},
            signature=sign(request),
        )
        messages.success(request, "The rules of buying are saved.")
        return redirect("inventory:reorder-list")
    context = {"form": form, "kept": kept}
    return answer(request, "inventory/reorder_rules.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def item_reorder_change(request: StudioRequest, pk: int) -> HttpResponse:
    """What holds for buying one item."""
    item = get_object_or_404(Item, pk=pk)
    form = ItemRulesForm(request.POST or None, instance=item)
    with transaction.atomic():
        # One after the other: two items put in each other's place at once would both look right.
        Studio.objects.select_for_update().get(pk=request.studio.pk)
        if request.method == "POST" and form.is_valid():
            form.save()
            messages.success(request, f"What holds for buying {item} is saved.")
            return redirect("inventory:item-reorder", item.pk)
    context: dict[str, Any] = {"form": form, "item": item}
    return answer(request, "inventory/item_reorder_form.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS, costs=True)
def supplier_terms(request: StudioRequest, pk: int) -> HttpResponse:
    """On what terms a supplier sends."""
    supplier = get_object_or_404(Supplier, pk=pk)
    form = TermsForm(request.POST or None, instance=supplier, currency=request.studio.currency)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"The terms of {supplier} are saved.")
        return redirect(supplier)
    context = {"form": form, "supplier": supplier}
    return answer(request, "inventory/supplier_terms.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def posting_one_off(request: StudioRequest, pk: int) -> HttpResponse:
    """Leave a draw or a dispatch out of the usual use, because it will not come again; or take that back."""
    posting = get_object_or_404(Posting.objects.select_related("by"), pk=pk)
    now_one_off = one_offs.is_one_off(posting)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        signature = sign(request, reason=form.cleaned_data["reason"])
        wanted = request.POST.get("to") != "usual"

        def act() -> str:
            one_offs.mark(posting.pk, one_off=wanted, signature=signature)
            messages.success(
                request, "It is left out of the usual use." if wanted else "It counts as usual use again."
            )
            return posting.get_absolute_url()

        try:
            return redirect(once(request, act))
        except one_offs.OneOffError as error:
            form.add_error(None, str(error))
    context = {
        "form": form,
        "posting": posting,
        "now_one_off": now_one_off,
        "movements": posting.movements.select_related("lot__item"),
        "records": posting.one_off_records.select_related("by"),
    }
    return answer(request, "inventory/posting_one_off.html", context, refused=form.is_bound)
