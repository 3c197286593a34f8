"""The books as they were written: every posting, and the reversal of those that may be reversed by themselves."""

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS, PermissionDenied
from django.db.models import Count, OuterRef, Prefetch, Subquery
from django.db.models.functions import Coalesce
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from inventory.ledger import books, closing
from inventory.ledger.overrides import stopped_uses_of
from inventory.models import USES, Movement, OneOff, Posting, Review
from studio.models import User
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import panels, tables
from studio.web.filters import Choice, Filters
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, page_of, sign
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

# Draws and yields belong to a batch and are put right on its page, so that the batch follows.
REVERSED_HERE = {
    Posting.Kind.RECEIPT,
    Posting.Kind.DECANT,
    Posting.Kind.DISPATCH,
    Posting.Kind.RETURN,
    Posting.Kind.SCRAP,
    Posting.Kind.SAMPLE,
    Posting.Kind.SENT_BACK,
    Posting.Kind.FOUND,
    Posting.Kind.CORRECTION,
    Posting.Kind.COUNT,
    Posting.Kind.OPENING,
    Posting.Kind.EARLIER,
}
# Stock found is what these are about; in any other posting it is a surprise to be looked at.
ABOUT_FOUND = {Posting.Kind.FOUND, Posting.Kind.EARLIER}
BROUGHT_IN = {Posting.Kind.OPENING, Posting.Kind.EARLIER}
LINES_SHOWN = 4

POSTINGS = Table(
    "postings",
    "Postings",
    [
        Column("When", "happened_at", Format.TIME, link="get_absolute_url"),
        Column("What", "get_kind_display"),
        Column("Lots"),
        Column("By", "by"),
        Column("State"),
    ],
)
LINES = Table(
    "books",
    "Lines of the books",
    [
        Column("Posting", "posting.pk"),
        Column("What", "posting.get_kind_display"),
        Column("Happened", "posting.happened_at", Format.TIME),
        Column("Recorded", "posting.recorded_at", Format.TIME),
        Column("By", "posting.by"),
        Column("Why", "posting.reason"),
        Column("Reverses", "posting.reverses_id"),
        Column("Lot", "lot.code"),
        Column("Item", "lot.item.name"),
        Column("Movement", "get_kind_display"),
        Column("Quantity", "quantity", Format.QUANTITY, item="lot.item"),
        Column("Unit", "lot.item.unit"),
        Column("Value", "value", Format.MONEY, may="sees_costs"),
    ],
)


@allow(see=EVERYONE)
def posting_list(request: StudioRequest) -> HttpResponse:
    """What was posted, the latest first."""
    filters = Filters(request, Choice("kind", "What", {"": "Everything", **dict(Posting.Kind.choices)}))
    kind = filters["kind"]
    if tables.wanted(request):
        lines = Movement.objects.select_related("posting__by", "lot__item")
        lines = lines.filter(posting__kind=kind) if kind else lines
        lines = lines.order_by("posting__happened_at", "pk")
        return LINES.file(request, lines.iterator(chunk_size=2000))
    # A posting from a table brought in may have hundreds of lines; the list needs the first few of each.
    first = Movement.objects.select_related("lot__item").order_by("pk")[:LINES_SHOWN]
    of_posting = Movement.objects.filter(posting=OuterRef("pk")).order_by().values("posting")
    postings = (
        Posting.objects.select_related("by", "reversal", "reverses")
        .annotate(line_count=Coalesce(Subquery(of_posting.annotate(lines=Count("pk")).values("lines")), 0))
        .prefetch_related(Prefetch("movements", first, to_attr="first_lines"))
    )
    if kind:
        postings = postings.filter(kind=kind)
    page = page_of(request, postings, 40)
    context = {"page": page, "table": POSTINGS.shown(request, list(page)), "filters": filters}
    return answer(request, "inventory/posting_list.html", context)


@allow(see=EVERYONE)
def posting_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One posting: who, when, why, and its lines."""
    posting = get_object_or_404(
        Posting.objects.select_related(
            "by",
            "reverses",
            "reversal__by",
            "delivery",
            "dispatch__customer",
            "dispatch__channel",
            "goods_return__dispatch",
            "review__by",
            "late_cost__delivery",
            "count",
        ),
        pk=pk,
    )
    lines = list(posting.movements.select_related("lot__item"))
    stands = posting.reverses_id is None and not hasattr(posting, "reversal")
    found = posting.kind not in ABOUT_FOUND and any(line.kind == Movement.Kind.FOUND for line in lines)
    stopped = list(stopped_uses_of([posting.pk]))
    context = {
        "posting": posting,
        "lines": lines,
        "period_costs": posting.period_costs.select_related("lot__item"),
        "stands": stands,
        "may_reverse": stands and _reversed_here(posting) and _is_theirs(request.user, posting),
        "to_review": stands and found and not hasattr(posting, "review"),
        "stopped_to_review": stands and bool(stopped) and not hasattr(posting, "review"),
        "stopped_uses": stopped,
        "override_uses": posting.override_uses.select_related("override__by", "override__lot__item"),
        "brought_in": posting.imported_rows.select_related("run").first()
        if posting.kind in BROUGHT_IN
        else None,
        "one_off": OneOff.objects.standing().filter(posting=posting).select_related("by").first(),
        "may_leave_out": stands and any(line.kind in USES for line in lines),
        "panels": panels.shown("posting", request, posting),
    }
    return answer(request, "inventory/posting_detail.html", context)


def _reversed_here(posting: Posting) -> bool:
    return posting.kind in REVERSED_HERE or hasattr(posting, "late_cost")


def _is_theirs(user: User, posting: Posting) -> bool:
    """Whether this person reverses postings like this one: a cost whoever may enter one, all else whoever makes."""
    return user.sees_costs if hasattr(posting, "late_cost") else user.makes


@allow(see=EVERYONE, do=EVERYONE)
def posting_reverse(request: StudioRequest, pk: int) -> HttpResponse:
    """Reverse a receipt or a dispatch, with a reason; says first what will happen."""
    posting = get_object_or_404(Posting.objects.select_related("by", "delivery", "late_cost"), pk=pk)
    if not _is_theirs(request.user, posting):
        raise PermissionDenied
    if not _reversed_here(posting):
        messages.warning(request, "This is put right on its batch's page, so that the batch follows.")
        return redirect(posting)
    form = ReasonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        signature = sign(request, reason=form.cleaned_data["reason"])
        try:
            url = once(request, lambda: books.reverse(posting, signature).get_absolute_url())
        except books.CannotReverse as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
        else:
            messages.success(request, "Reversed. Both postings stay on record.")
            return redirect(url)
    context = {
        "form": form,
        "posting": posting,
        "lines": posting.movements.select_related("lot__item"),
        "closed": closing.put_right_when(posting.happened_at),
    }
    return answer(request, "inventory/posting_reverse.html", context, refused=form.is_bound)


@allow(do=MAKERS)
def posting_review(request: StudioRequest, pk: int) -> HttpResponse:
    """Somebody looked at stock that was booked as found."""
    posting = get_object_or_404(Posting, pk=pk)
    signature = sign(request)
    Review.objects.get_or_create(posting=posting, defaults={"by": signature.by, "at": signature.recorded_at})
    messages.success(request, "Noted that you looked at it.")
    return redirect(posting)
