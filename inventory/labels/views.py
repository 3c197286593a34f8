"""Printing labels for lots, and the layouts they are printed on."""

from typing import Any

from django.contrib import messages
from django.db.models import Exists, OuterRef, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from inventory.labels.forms import LabelLayoutForm, PrintForm
from inventory.labels.sheets import Label, LayoutError, labels_pdf
from inventory.labels.texts import label_of, layout_of, layouts_for
from inventory.models import Delivery, LabelLayout, Lot, Movement
from studio.core.codes import normalise
from studio.people.access import EVERYONE, OWNER, allow
from studio.web.requests import StudioRequest, answer, shown_pdf, today
from studio.web.submissions import once

PRINT = "print"


def _lots() -> QuerySet[Lot]:
    poured = Movement.objects.filter(lot=OuterRef("pk"), kind=Movement.Kind.DECANTED, quantity__gt=0)
    return Lot.objects.select_related("item", "delivery_line").annotate(decanted=Exists(poured))


@allow(see=EVERYONE)
def lot_labels(request: StudioRequest, code: str) -> HttpResponse:
    """Labels for one lot."""
    lot = get_object_or_404(_lots(), code=normalise(code))
    return _print(request, [lot], {"lot": lot}, f"lot-{lot.code}")


@allow(see=EVERYONE)
def delivery_labels(request: StudioRequest, pk: int) -> HttpResponse:
    """Labels for every lot of a delivery."""
    delivery = get_object_or_404(Delivery.objects.select_related("supplier"), pk=pk)
    lots = list(_lots().filter(delivery_line__delivery=delivery).order_by("pk"))
    return _print(request, lots, {"delivery": delivery}, f"delivery-{delivery.pk}")


def _print(request: StudioRequest, lots: list[Lot], context: dict[str, Any], name: str) -> HttpResponse:
    """The form; once it was filled in, the labels."""
    asked = PRINT in request.GET
    form = PrintForm(request.GET if asked else None, lots=lots, initial=_initial(request, lots))
    if asked and form.is_valid():
        try:
            pdf = _pdf(request, form)
        except LayoutError as error:
            form.add_error(error.figure if error.figure == "start" else "layout", str(error))
        else:
            return shown_pdf(pdf, f"labels-{name}")
    any_layout = bool(form.fields["layout"].queryset)  # type: ignore[attr-defined]
    context |= {"form": form, "print": PRINT, "any_layout": any_layout, "lots": lots}
    return answer(request, "inventory/labels_print.html", context, refused=form.is_bound)


def _initial(request: StudioRequest, lots: list[Lot]) -> dict[str, Any]:
    layouts = layouts_for(request.studio.page_size)
    return {"layout": layouts[0] if layouts else None, "start": 1} | {
        lot.code: _containers(lot, lots) for lot in lots
    }


def _containers(lot: Lot, lots: list[Lot]) -> int:
    """How many containers a lot is likely to stand in: the packs it came in, unless each is a lot of its own."""
    line = lot.delivery_line
    if not lot.on_hand:
        return 0 if len(lots) > 1 else 1
    if line is None or lot.on_hand < line.quantity:
        return 1
    return min(line.packs, 20)


def _pdf(request: StudioRequest, form: PrintForm) -> bytes:
    labels = {lot: _label(request, lot) for lot in form.lots}
    return labels_pdf(
        [labels[lot] for lot in form.wanted()],
        layout_of(form.cleaned_data["layout"]),
        form.cleaned_data["start"],
    )


def _label(request: StudioRequest, lot: Lot) -> Label:
    came = "Arrived" if lot.delivery_line_id else "Decanted" if lot.decanted else "Made"  # type: ignore[attr-defined]
    return label_of(
        lot,
        came=came,
        arrived_on=timezone.localdate(lot.arrived_at),
        on=today(),
        url=request.build_absolute_uri(lot.get_absolute_url()),
    )


@allow(see=OWNER)
def label_layout_list(request: StudioRequest) -> HttpResponse:
    """The layouts labels are printed on."""
    return answer(request, "inventory/label_layout_list.html", {"layouts": LabelLayout.objects.all()})


@allow(see=OWNER, do=OWNER)
def label_layout_add(request: StudioRequest) -> HttpResponse:
    """A new layout."""
    form = LabelLayoutForm(request.POST or None, unit=_unit(request))
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            added = form.save()
            messages.success(
                request, f"{added} is added. Print one page on plain paper first and hold it to a sheet."
            )
            return added.get_absolute_url()

        return redirect(once(request, act))
    context = {"form": form, "heading": "Add a layout"}
    return answer(request, "inventory/label_layout_form.html", context, refused=form.is_bound)


@allow(see=OWNER, do=OWNER)
def label_layout_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a layout, or offer it no longer."""
    layout = get_object_or_404(LabelLayout, pk=pk)
    form = LabelLayoutForm(request.POST or None, instance=layout, unit=_unit(request))
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"{layout} is saved.")
        return redirect("inventory:label-layout-list")
    context = {"form": form, "heading": "Change a layout"}
    return answer(request, "inventory/label_layout_form.html", context, refused=form.is_bound)


def _unit(request: StudioRequest) -> str:
    """What a bare length is typed in: inches where paper comes in inches."""
    return "in" if request.studio.page_size == "Letter" else "mm"
