"""Complaints: listed, taken down, looked into, answered and closed; what they share; what comes back."""

from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect

from batches.complaints import complaining
from batches.complaints.candidates import candidates
from batches.complaints.common_lot_of import common, lots_in, stands_out
from batches.complaints.departure import NotLeft, day_it_was_bought_by, not_left
from batches.complaints.forms import ComplaintForm, ComplaintPhotoForm, SettleForm, SharedForm
from batches.complaints.patterns import Pattern, by_lot, by_product
from batches.complaints.pointing import WHY
from batches.complaints.reporting import duties
from batches.models import Batch, Complaint, ComplaintPhoto
from inventory.customers.customers import Contact, customer_named
from inventory.models import Item, Lot
from studio.core.codes import normalise
from studio.core.days import begin, first_instant_after
from studio.people.access import MAKERS, OWNER, allow
from studio.web import tables
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, page_of, shown_picture, sign, today
from studio.web.submissions import once

STATES = {"": "Open ones", "closed": "Closed", "all": "All"}
COMPARED_AT_MOST = 500
HEAD = (
    "Complaint",
    "State",
    "About",
    "Fire",
    "May have to be reported",
    "Product",
    "Lot",
    "Batch",
    "Candles",
    "Happened on",
    "Told on",
    "Customer",
    "Order reference",
    "What happened",
    "Cause",
    "Outcome",
    "Closed",
    "Days to close",
)


def complaint_of(code: str) -> Complaint:
    """The complaint of a code in whatever way it was typed into the address."""
    complaints = Complaint.objects.select_related(
        "item", "lot__item", "batch", "channel", "customer", "taken_by"
    )
    return get_object_or_404(complaints, code=normalise(code))


@allow(see=MAKERS)
def complaint_list(request: StudioRequest) -> HttpResponse:
    """Complaints, the latest first."""
    state = request.GET.get("state", "")
    state = state if state in STATES else ""
    complaints = Complaint.objects.with_candle().select_related("customer")
    if state == "":
        complaints = complaints.waiting()
    elif state == "closed":
        complaints = complaints.filter(state=Complaint.State.CLOSED)
    kind = request.GET.get("kind", "")
    if kind in Complaint.Kind.values:
        complaints = complaints.filter(kind=kind)
    if tables.wanted(request):
        rows = (_row(each, request) for each in complaints)
        return tables.export(request, "complaints", HEAD, rows)
    context = {
        "page": page_of(request, complaints),
        "states": STATES,
        "state": state,
        "kinds": Complaint.Kind.choices,
        "kind": kind,
    }
    return answer(request, "batches/complaint_list.html", context)


def _row(each: Complaint, request: StudioRequest) -> list[object]:
    return [
        each.code,
        each.get_state_display(),
        each.get_kind_display(),
        "yes" if each.fire else "no",
        "; ".join(each.signs_of_danger),
        str(each.item),
        each.lot.code if each.lot else "",
        each.batch.code if each.batch else "",
        each.units,
        each.happened_on,
        each.told_at,
        each.customer.display_name(request.user) if each.customer else "",
        each.reference,
        each.what,
        each.cause,
        each.get_outcome_display(),
        each.closed_at,
        each.took.days if each.took else None,
    ]


@allow(see=MAKERS, do=MAKERS)
def complaint_add(request: StudioRequest) -> HttpResponse:
    """Take down what somebody said."""
    form = ComplaintForm(_with_instead(request), initial={"code": request.GET.get("code", "")[:60]})
    if request.method == "POST" and form.is_valid():
        signature = sign(request, happened_at=form.cleaned_data["told_at"])

        def act() -> str:
            customer = customer_named(_who(form), at=signature.recorded_at)
            if words := form.candle.replaced_words:
                messages.info(request, words)
            taken = complaining.take(signature=signature, customer=customer, **form.said())
            return taken.get_absolute_url()

        try:
            return redirect(once(request, act))
        except complaining.ComplaintError as error:
            form.add_error(error.field or NON_FIELD_ERRORS, str(error))
    context = {"form": form, "complaint": None, "not_left": _not_left(form, None)} | _danger(request, form)
    return answer(request, "batches/complaint_form.html", context, refused=request.method == "POST")


def _danger(request: StudioRequest, form: ComplaintForm) -> dict[str, Any]:
    """The caution about reporting for what was typed, even where something of it is still missing."""
    return {"signs": form.signs_of_danger, "duties": duties(request.studio.market)}


def _not_left(form: ComplaintForm, complaint: Complaint | None) -> NotLeft | None:
    """What the books say against the candle that the form shows, by the day of the complaint or by today."""
    if form.is_bound:
        candle = form.candle
    elif complaint:
        candle = complaining.Candle(complaint.lot, complaint.batch)
    else:
        code = normalise(form.initial.get("code", ""))
        candle = (code and complaining.candle_of(code)) or complaining.Candle()
    return not_left(candle, day_it_was_bought_by(complaint) if complaint else today())


def _with_instead(request: StudioRequest) -> Any:
    """What was posted, with the near match that was pressed in place of the mistyped code."""
    if request.method != "POST":
        return None
    data: QueryDict = request.POST
    if meant := normalise(data.get("instead", ""))[:60]:
        data = data.copy()
        data["code"] = meant
    return data


def _who(form: ComplaintForm) -> Contact | None:
    name = form.cleaned_data["customer"].strip()
    return Contact(name, reach=form.cleaned_data["reach"]) if name else None


@allow(see=MAKERS)
def complaint_detail(request: StudioRequest, code: str) -> HttpResponse:
    """What was said, which candle it was, what it shares with others, and what came of it."""
    complaint = complaint_of(code)
    alike = Complaint.objects.with_candle().filter(kind=complaint.kind)[:COMPARED_AT_MOST]
    shared = common(alike, same_products=False) if complaint.is_known else None
    context = {
        "complaint": complaint,
        "signs": complaint.signs_of_danger,
        "duties": duties(request.studio.market),
        "who": complaint.customer.display_name(request.user) if complaint.customer else "",
        "candidates": [] if complaint.is_known else candidates(complaint),
        "shared": shared,
        "first": stands_out(shared, complaint) if shared else None,
        "lots_in": lots_in(complaint) if complaint.is_known else [],
        "why_first": WHY[complaint.kind],
        "not_left": not_left(
            complaining.Candle(complaint.lot, complaint.batch), day_it_was_bought_by(complaint)
        ),
        "photos": complaint.photos.defer("data").select_related("by"),
        "changes": complaint.changes.select_related("by"),
        "recalls": complaint.recalls.all(),
        "settle": SettleForm(initial=_settled(complaint)),
    }
    return answer(request, "batches/complaint_detail.html", context)


@allow(see=MAKERS, do=MAKERS)
def complaint_change(request: StudioRequest, code: str) -> HttpResponse:
    """Put right what was taken down."""
    complaint = complaint_of(code)
    form = ComplaintForm(_with_instead(request), complaint=complaint, initial=ComplaintForm.shown(complaint))
    if request.method == "POST" and form.is_valid():
        signature = sign(request)

        def act() -> str:
            said = form.changes()
            if {"customer", "reach"} & set(form.changed_data):
                said["customer"] = customer_named(_who(form), at=signature.recorded_at)
            complaining.change(complaint.pk, signature=signature, **said)
            return complaint.get_absolute_url()

        try:
            return redirect(once(request, act))
        except complaining.ComplaintError as error:
            form.add_error(error.field or NON_FIELD_ERRORS, str(error))
    context = {"form": form, "complaint": complaint, "not_left": _not_left(form, complaint)}
    context |= _danger(request, form)
    return answer(request, "batches/complaint_form.html", context, refused=request.method == "POST")


def _settled(complaint: Complaint) -> dict[str, Any]:
    return {name: getattr(complaint, name) for name in ("cause", "answer", "outcome", "state")}


@allow(see=MAKERS, do=MAKERS)
def complaint_settle(request: StudioRequest, code: str) -> HttpResponse:
    """Write what was found and answered, and close it."""
    complaint = complaint_of(code)
    form = SettleForm(request.POST or None, initial=_settled(complaint))
    if request.method == "POST" and form.is_valid():
        said = {name: form.cleaned_data[name] for name in form.changed_data}

        def act() -> str:
            complaining.change(complaint.pk, signature=sign(request), **said)
            return complaint.get_absolute_url()

        try:
            return redirect(once(request, act))
        except complaining.ComplaintError as error:
            form.add_error(error.field if error.field in form.fields else NON_FIELD_ERRORS, str(error))
    context = {"form": form, "complaint": complaint}
    return answer(request, "batches/complaint_settle.html", context, refused=request.method == "POST")


@allow(do=MAKERS)
def complaint_candle(request: StudioRequest, code: str) -> HttpResponse:
    """Say that it was a candle of this lot."""
    complaint = complaint_of(code)
    candle = complaining.candle_of(normalise(request.POST.get("lot", ""))[:60])
    item = Item.objects.filter(pk=candle.item_id).first() if candle and candle.item_id else None
    if candle is None or item is None:
        return redirect("batches:complaint-change", code=complaint.code)

    def act() -> str:
        complaining.change(
            complaint.pk,
            signature=sign(request),
            lot=candle.lot,
            batch=candle.batch,
            item=item,
        )
        return complaint.get_absolute_url()

    return redirect(once(request, act))


@allow(see=MAKERS, do=MAKERS)
def complaint_photo_add(request: StudioRequest, code: str) -> HttpResponse:
    """Keep a photo beside the complaint."""
    complaint = complaint_of(code)
    form = ComplaintPhotoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data

        def act() -> str:
            complaining.add_photo(complaint.pk, data["photo"], text=data["text"], signature=sign(request))
            return complaint.get_absolute_url() + "#photos"

        try:
            return redirect(once(request, act))
        except complaining.ComplaintError as error:
            form.add_error(error.field or NON_FIELD_ERRORS, str(error))
    context = {"form": form, "complaint": complaint}
    return answer(request, "batches/complaint_photo.html", context, refused=request.method == "POST")


@allow(see=MAKERS)
def complaint_photo(request: StudioRequest, code: str, pk: int) -> HttpResponse:
    """A photo of the complaint, as it was written anew."""
    found = get_object_or_404(ComplaintPhoto, pk=pk, complaint__code=normalise(code), size__gt=0)
    return shown_picture(found.data, found.media_type, f"complaint-{normalise(code)}-{found.pk}")


@allow(see=OWNER, do=OWNER)
def complaint_erase(request: StudioRequest, code: str) -> HttpResponse:
    """Take away what may name a person."""
    complaint = complaint_of(code)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            complaining.erase(complaint.pk, signature=sign(request, reason=form.cleaned_data["reason"]))
            return complaint.get_absolute_url()

        try:
            return redirect(once(request, act))
        except complaining.ComplaintError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    context = {"form": form, "complaint": complaint}
    return answer(request, "batches/complaint_erase.html", context, refused=request.method == "POST")


@allow(see=MAKERS)
def complaint_shared(request: StudioRequest) -> HttpResponse:
    """The lots a set of complaints shares more than their share of all units sent would explain."""
    form = SharedForm(request.GET)
    form.is_valid()
    chosen = _asked_for(form)
    ticked = set(request.GET.getlist("c"))
    compared = [each for each in chosen if each.code in ticked] if ticked else chosen
    found = common(compared, same_products=form.cleaned_data.get("scope") == "same")
    if tables.wanted(request):
        return _export_shared(request, found.rows)
    context = {
        "form": form,
        "chosen": chosen,
        "compared": {each.pk for each in compared},
        "found": found,
        "same": form.cleaned_data.get("scope") == "same",
    }
    return answer(request, "batches/complaint_shared.html", context)


def _asked_for(form: SharedForm) -> list[Complaint]:
    asked = Complaint.objects.with_candle()
    data = form.cleaned_data
    if data.get("state") == "open":
        asked = asked.waiting()
    if kind := data.get("kind"):
        asked = asked.filter(kind=kind)
    if item := data.get("item"):
        asked = asked.filter(item=item)
    first, last = form.days
    if first:
        asked = asked.filter(told_at__gte=begin(first))
    if last:
        asked = asked.filter(told_at__lt=first_instant_after(last))
    return list(asked[:COMPARED_AT_MOST])


def _export_shared(request: StudioRequest, rows: Iterable[Any]) -> HttpResponse:
    head = (
        "Lots",
        "Item",
        "Supplier",
        "Supplier's lot",
        "Complaints with it",
        "Complaints without",
        "Other units with it",
        "Other units without",
        "Ratio",
        "Expected",
        "Chance",
        "Chance, corrected",
        "Complaints",
    )

    def row(each: Any) -> list[object]:
        shared, lot = each.shared, each.lots[0]
        return [
            " ".join(one.code for one in each.lots),
            ", ".join(dict.fromkeys(str(one.item) for one in each.lots)),
            str(lot.supplier or ""),
            lot.supplier_lot,
            shared.with_it,
            shared.without,
            shared.others_with,
            shared.others_without,
            tables.exact_cell(shared.ratio) if shared.ratio is not None else None,
            tables.exact_cell(shared.expected),
            tables.exact_cell(shared.chance),
            shared.corrected,
            " ".join(one.code for one in each.complaints),
        ]

    return tables.export(request, "common-lot", head, map(row, rows))


@allow(see=MAKERS)
def complaint_patterns(request: StudioRequest) -> HttpResponse:
    """Complaints by product and by lot, for every thousand sent."""
    products, lots = by_product(), by_lot()
    if tables.wanted(request):
        head = ("What", "Code", "Complaints", "Units sent", "For every thousand", "Note")
        return tables.export(request, "complaints-again", head, map(_pattern_row, [*products, *lots]))
    closed = Complaint.objects.filter(state=Complaint.State.CLOSED)
    took = sorted(each.took for each in closed.only("told_at", "closed_at") if each.took is not None)
    context = {
        "products": products,
        "lots": lots,
        "closed": len(took),
        "median": took[len(took) // 2] if took else None,
        "longest": took[-1] if took else None,
    }
    return answer(request, "batches/complaint_patterns.html", context)


def _pattern_row(each: Pattern) -> list[object]:
    subject = each.subject
    what = subject.item if isinstance(subject, Lot | Batch) else subject
    rate = each.per_thousand
    return [
        str(what),
        subject.code if isinstance(subject, Lot | Batch) else "",
        each.complaints,
        each.sent,
        None if rate is None else tables.exact_cell(rate),
        each.says,
    ]
