"""Complaints: listed, taken down, looked into, answered and closed; what they share; what comes back."""

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
from studio.models import User
from studio.people.access import MAKERS, OWNER, allow
from studio.web import tables
from studio.web.filters import Choice, Filters
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, page_of, shown_picture, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

STATES = {"": "Open ones", "closed": "Closed", "all": "All"}
COMPARED_AT_MOST = 500


def complaint_of(code: str) -> Complaint:
    """The complaint of a code in whatever way it was typed into the address."""
    complaints = Complaint.objects.select_related(
        "item", "lot__item", "batch", "channel", "customer", "taken_by"
    )
    return get_object_or_404(complaints, code=normalise(code))


@allow(see=MAKERS)
def complaint_list(request: StudioRequest) -> HttpResponse:
    """Complaints, the latest first."""
    kinds = {"": "Anything", **dict(Complaint.Kind.choices)}
    filters = Filters(request, Choice("state", "Show", STATES), Choice("kind", "About", kinds))
    complaints = Complaint.objects.with_candle().select_related("customer")
    if filters["state"] == "":
        complaints = complaints.waiting()
    elif filters["state"] == "closed":
        complaints = complaints.filter(state=Complaint.State.CLOSED)
    if kind := filters["kind"]:
        complaints = complaints.filter(kind=kind)
    table = _table(request.user)
    complaints = table.sorted(request, complaints)
    if tables.wanted(request):
        return table.file(request, complaints)
    page = page_of(request, complaints)
    context = {"page": page, "table": table.shown(request, list(page)), "filters": filters}
    return answer(request, "batches/complaint_list.html", context)


def _table(user: User) -> Table:
    return Table(
        "complaints",
        "Complaints",
        [
            Column("Complaint", "code", Format.CODE, link="get_absolute_url", sort=("code",)),
            Column("State", "get_state_display"),
            Column("About", "get_kind_display", sort=("kind",)),
            Column("Fire", "fire", Format.YES),
            Column("May have to be reported", lambda complaint: "; ".join(complaint.signs_of_danger)),
            Column("Product", "item", title="Candle"),
            Column("Lot", "lot.code"),
            Column("Batch", "batch.code"),
            Column("Candles", "units", Format.NUMBER),
            Column("Happened on", "happened_on", Format.DAY),
            Column("Told on", "told_at", Format.DAY, sort=("told_at",)),
            Column(
                "Customer", lambda complaint: complaint.customer and complaint.customer.display_name(user)
            ),
            Column("Order reference", "reference"),
            Column("What happened", "what"),
            Column("Cause", "cause"),
            Column("Outcome", "get_outcome_display"),
            Column("Closed", "closed_at", Format.TIME),
            Column("Days to close", "took.days", Format.NUMBER),
            Column("Time to close"),
        ],
        page=("complaint", "about", "product", "state", "told_on", "time_to_close"),
    )


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
        return SHARED.file(request, found.rows)
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


SHARED = Table(
    "common-lot",
    "Lots in these candles",
    [
        Column("Lots", lambda row: " ".join(lot.code for lot in row.lots)),
        Column("Item", lambda row: ", ".join(dict.fromkeys(str(lot.item) for lot in row.lots))),
        Column("Supplier", lambda row: row.lots[0].supplier),
        Column("Supplier's lot", lambda row: row.lots[0].supplier_lot),
        Column("Complaints with it", "shared.with_it", Format.NUMBER),
        Column("Complaints without", "shared.without", Format.NUMBER),
        Column("Other units with it", "shared.others_with", Format.NUMBER),
        Column("Other units without", "shared.others_without", Format.NUMBER),
        Column("Ratio", "shared.ratio", Format.RATIO),
        Column("Expected", "shared.expected", Format.RATIO),
        Column("Chance", "shared.chance", Format.RATIO),
        Column("Chance, corrected", "shared.corrected", Format.RATIO),
        Column("Complaints", lambda row: " ".join(complaint.code for complaint in row.complaints)),
    ],
)


@allow(see=MAKERS)
def complaint_patterns(request: StudioRequest) -> HttpResponse:
    """Complaints by product and by lot, for every thousand sent."""
    products, lots = by_product(), by_lot()
    if tables.wanted(request):
        return PATTERNS.file(request, [*products, *lots])
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


def _code_of(pattern: Pattern) -> str:
    """The code of a lot or a batch; a product has none."""
    return pattern.subject.code if isinstance(pattern.subject, Lot | Batch) else ""


def _what_of(pattern: Pattern) -> str:
    subject = pattern.subject
    return str(subject.item if isinstance(subject, Lot | Batch) else subject)


PATTERNS = Table(
    "complaints-again",
    "Complaints by product and by lot",
    [
        Column("What", _what_of),
        Column("Code", _code_of),
        Column("Complaints", "complaints", Format.NUMBER),
        Column("Units sent", "sent", Format.NUMBER),
        Column("For every thousand", "per_thousand", Format.RATIO),
        Column("Note", "says"),
    ],
)
