"""Lots: what one holds, where it came from, where it went, and whether it may be used."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Q, QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect

from inventory.documents.queries import beside
from inventory.fetch import lot_of
from inventory.items import ledger_lines
from inventory.lots import holding
from inventory.lots.family import poured_from, poured_into
from inventory.lots.forms import AllowForm, LotForm
from inventory.lots.succession import Ending, endings
from inventory.models import Item, Kind, Lot, Movement
from studio.core.codes import normalise
from studio.people.access import EVERYONE, MAKERS, OWNER, allow
from studio.people.signature import Signature
from studio.web import panels, tables
from studio.web.filters import Choice, Filters, Search, whole_number
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

STATES = {
    "shelf": "On the shelf",
    "waiting": "To be released",
    "held": "On hold",
    "expired": "Expired",
    "empty": "Used up",
    "all": "All",
}
# A lot's own page does not name it on every line.
BESIDE_A_LOT = [key for key in ledger_lines.BOOKS.page if key != "lot"]


@allow(see=EVERYONE)
def lot_list(request: StudioRequest) -> HttpResponse:
    """Lots by condition, the latest first."""
    item = _item_asked_for(request)
    search = Search("Item, code, place or supplier's lot has")
    filters = Filters(
        request, Choice("state", "Show", STATES, "shelf"), search, item=item.pk if item else None
    )
    lots = _in_state(Lot.objects.select_related("item", "supplier"), filters["state"])
    if item:
        lots = lots.filter(item=item)
    if text := filters["q"]:
        lots = lots.filter(
            Q(item__name__icontains=text)
            | Q(code__startswith=normalise(text))
            | Q(supplier_lot__icontains=text)
            | Q(place__icontains=text)
        )
    table = _table(today())
    lots = table.sorted(request, lots)
    if tables.wanted(request):
        return table.file(request, lots.iterator(chunk_size=2000))
    page = page_of(request, lots)
    context = {"page": page, "table": table.shown(request, list(page)), "filters": filters, "item": item}
    return answer(request, "inventory/lot_list.html", context)


def _table(day: date) -> Table:
    return Table(
        "lots",
        "Lots",
        [
            Column("Lot", "code", Format.CODE, link="get_absolute_url", sort=("code",)),
            Column("Item", "item.name", sort=("item__name",)),
            Column("Grade", "get_grade_display"),
            Column("On hand", "on_hand", Format.QUANTITY, sort=("on_hand",)),
            Column("Unit", "item.unit"),
            Column("State", lambda lot: lot.state(day), Format.STATE),
            Column("Place", "place", sort=("place",)),
            Column("Arrived", "arrived_at", Format.DAY, sort=("arrived_at",)),
            Column("Expires", "expires_on", Format.DAY, sort=("expires_on",)),
            Column("Supplier", "supplier"),
            Column("Supplier's lot", "supplier_lot"),
            Column("Value", "value", Format.MONEY, may="sees_costs"),
        ],
        page=("lot", "item", "on_hand", "state", "place", "arrived", "expires"),
    )


def _item_asked_for(request: StudioRequest) -> Item | None:
    """The one item whose lots are wanted; None where none is named, or none that exists."""
    key = whole_number(request.GET.get("item", ""))
    return None if key is None else Item.objects.filter(pk=key).first()


def _in_state(lots: QuerySet[Lot], state: str) -> QuerySet[Lot]:
    conditions = {
        "shelf": Q(on_hand__gt=0),
        "waiting": Q(on_hand__gt=0, awaits_release=True),
        "held": Q(on_hand__gt=0, held=True),
        "expired": Q(on_hand__gt=0, expires_on__lt=today()),
        "empty": Q(on_hand=0),
        "all": Q(),
    }
    return lots.filter(conditions[state])


@allow(see=EVERYONE)
def lot_detail(request: StudioRequest, code: str) -> HttpResponse:
    """One lot: what is left, its history, what made it and what used it."""
    lot = lot_of(code)
    day = today()
    lines = Movement.objects.filter(lot=lot)
    page = page_of(request, ledger_lines.latest_first(lines))
    levels = ledger_lines.levels(lines, [line.pk for line in page])
    hold_records = list(lot.hold_records.select_related("by"))
    ending = endings([lot.pk]).get(lot.pk)
    context = {
        "lot": lot,
        "day": day,
        "tone_word": _tone_word(lot, ending, day),
        "ending": ending,
        "page": page,
        "books": replace(ledger_lines.BOOKS, page=BESIDE_A_LOT).shown(
            request, [ledger_lines.Entry(line, levels[line.pk]) for line in page]
        ),
        "papers": beside(lot.documents.all(), day),
        "hold_records": hold_records,
        "holds": holding.standing(hold_records),
        "overrides": lot.overrides.select_related("by"),
        "allowed": lot.allowed(day) and (lot.held or lot.expired(day)),
        "may_allow": lot.on_hand > 0 and (lot.held or lot.expired(day)),
        "changes": lot.changes.select_related("by"),
        "last_look": lot.count_lines.last_look(),
        "relatives": _relatives(lot),
        "came_word": _came_word(lot, lines.in_order().first()),
        "panels": panels.shown("lot", request, lot),
        "may_send": lot.item.kind == Kind.FINISHED and lot.on_hand > 0,
    }
    return answer(request, "inventory/lot_detail.html", context)


def _tone_word(lot: Lot, ending: Ending | None, day: date) -> tuple[str, str]:
    """Tone and word for its condition; one whose origin was reversed was not used up."""
    if ending is None or lot.on_hand:
        return lot.state(day)
    return ("attention", "Replaced") if ending.lots else ("attention", "Reversed")


def _relatives(lot: Lot) -> list[tuple[str, Lot, int]]:
    """Lots it was poured from or came back of, and those that became of it: how, in a word or two, and how much."""
    before, after = poured_into({lot.pk}), poured_from({lot.pk})
    lots = Lot.objects.in_bulk({row.parent for row in before} | {row.child for row in after})
    found = [("came back of" if row.returned else "from", lots[row.parent], row.quantity) for row in before]
    return found + [
        ("came back as" if row.returned else "into", lots[row.child], row.quantity) for row in after
    ]


def _came_word(lot: Lot, first: Movement | None) -> str:
    """How the lot came to be, in a word."""
    if lot.delivery_line_id:
        return "Arrived"
    words: dict[str, str] = {Movement.Kind.DECANTED: "Decanted", Movement.Kind.RETURNED: "Came back"}
    return words.get(first.kind, "Made") if first else "Made"


@allow(see=MAKERS, do=MAKERS)
def lot_change(request: StudioRequest, code: str) -> HttpResponse:
    """Where the lot stands, when it expires and the supplier's number: facts outside the books."""
    lot = lot_of(code)
    written = {"place": lot.place, "expires_on": lot.expires_on, "supplier_lot": lot.supplier_lot}
    form = LotForm(request.POST or None, initial=written)
    if request.method == "POST" and form.is_valid():
        changed = {name: form.cleaned_data[name] for name in form.changed_data}
        holding.relabel(lot.pk, **changed, signature=sign(request))
        messages.success(request, f"Lot {lot.spaced_code} is saved.")
        return redirect(lot)
    return answer(request, "inventory/lot_form.html", {"form": form, "lot": lot}, refused=form.is_bound)


def _set_hold(
    request: StudioRequest, code: str, act: Callable[..., Lot], heading: str, button: str, done: str
) -> HttpResponse:
    lot = lot_of(code)
    form = ReasonForm(request.POST or None)
    context = {"form": form, "lot": lot, "heading": heading, "button": button}
    context["holds"] = holding.standing(lot.hold_records.select_related("by"))
    if request.method == "POST" and form.is_valid():
        signature: Signature = sign(request, reason=form.cleaned_data["reason"])
        try:
            url = once(request, lambda: act(lot.pk, signature=signature).get_absolute_url())
        except holding.AlreadySo as error:
            messages.warning(request, str(error))
            return redirect(lot)
        except holding.OwnerDecides as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
            return answer(request, "inventory/lot_hold.html", context, refused=True)
        messages.success(request, f"Lot {lot.spaced_code} is {done}.")
        return redirect(url)
    return answer(request, "inventory/lot_hold.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def lot_hold(request: StudioRequest, code: str) -> HttpResponse:
    """Put a lot on hold, with a reason."""
    return _set_hold(request, code, holding.hold, "Put on hold", "Put on hold", "on hold")


@allow(see=MAKERS, do=MAKERS)
def lot_release(request: StudioRequest, code: str) -> HttpResponse:
    """Release a lot, with a reason."""
    return _set_hold(request, code, holding.release, "Release", "Release", "released")


@allow(see=OWNER, do=OWNER)
def lot_allow(request: StudioRequest, code: str) -> HttpResponse:
    """The owner lets a lot on hold or past its expiry be used until a day, with a reason."""
    lot = lot_of(code)
    form = AllowForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        signature = sign(request, reason=data["reason"])

        def act() -> str:
            return holding.allow_use(
                lot.pk, data["until"], on=today(), signature=signature
            ).get_absolute_url()

        try:
            url = once(request, act)
        except holding.CannotAllow as error:
            form.add_error("until", str(error))
        else:
            messages.success(request, f"Lot {lot.spaced_code} may be used until {data['until']:%d %b %Y}.")
            return redirect(url)
    context = {"form": form, "lot": lot, "heading": "Allow its use", "button": "Allow it", "allowing": True}
    return answer(request, "inventory/lot_hold.html", context, refused=form.is_bound)


@allow(see=OWNER, do=OWNER)
def lot_disallow(request: StudioRequest, code: str) -> HttpResponse:
    """The owner takes back what was allowed."""
    return _set_hold(
        request, code, holding.end_allowing, "No longer allow its use", "Take it back", "no longer allowed"
    )
