"""Decanting, scrap, samples, goods back to the supplier, found stock, and quantities put right."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import Form
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from inventory.fetch import lot_of
from inventory.ledger.books import BookError, LotShort, WrongTime
from inventory.lots import write_offs
from inventory.lots.decanting import CannotDecant, Jar, decant
from inventory.lots.forms_adjusting import (
    JARS_AT_MOST,
    DecantForm,
    JarLines,
    PutRightForm,
    ReasonLineForm,
    TakeOutForm,
    WithReason,
)
from inventory.lots.moving import Taking
from inventory.models import Lot, Posting, Reason
from studio.people.access import MAKERS, OWNER, allow
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, sign
from studio.web.submissions import once

PREFIX = "jars"
LINES_AT_FIRST = 2


@allow(see=MAKERS, do=MAKERS)
def lot_decant(request: StudioRequest, code: str) -> HttpResponse:
    """Pour a lot into other containers, each a lot of its own with a new code."""
    lot = lot_of(code)
    if not lot.on_hand and request.method != "POST":
        messages.warning(request, f"Nothing is left in lot {lot.spaced_code}.")
        return redirect(lot)
    kwargs = {"item": lot.item}
    if request.method != "POST":
        jars = JarLines(prefix=PREFIX, form_kwargs=kwargs)
        jars.extra = LINES_AT_FIRST
        return _decant_page(request, lot, DecantForm(lot=lot), jars)
    adding = ADD_LINE in request.POST
    data: QueryDict = request.POST
    if adding:
        data = with_another_line(data, PREFIX, JARS_AT_MOST, fresh={"count": "1"})
    form, jars = DecantForm(data, lot=lot), JarLines(data, prefix=PREFIX, form_kwargs=kwargs)
    if adding:
        hush(form, jars)
        return _decant_page(request, lot, form, jars)
    if form.is_valid() and jars.is_valid() and (url := _decant(request, lot, form, jars)):
        return redirect(url)
    return _decant_page(request, lot, form, jars, refused=True)


def _decant_page(
    request: StudioRequest, lot: Lot, form: DecantForm, jars: FormSet, *, refused: bool = False
) -> HttpResponse:
    return answer(
        request, "inventory/lot_decant.html", {"lot": lot, "form": form, "lines": jars}, refused=refused
    )


def _decant(request: StudioRequest, lot: Lot, form: DecantForm, jars: FormSet) -> str | None:
    """Decant; None when it was refused, with the sentence on the form."""
    data = form.cleaned_data
    lines: list[Any] = [line for line in jars.forms if line.has_changed()]
    filled: list[Jar] = [jar for line in lines for jar in line.jars()]
    also = data["also_understood"]
    takings = [Taking(lot.pk, sum(jar.quantity for jar in filled) - also)]
    if form.also:
        takings.append(Taking(form.also.pk, also))
    signature = sign(request, happened_at=data["happened_at"])

    def act() -> str:
        made = decant(takings, filled, signature=signature, emptied=data["emptied"], book_found=data["found"])
        codes = ", ".join(jar.spaced_code for jar in made)
        messages.success(request, f"Write on the containers: {codes}")
        posting = made[0].movements.get().posting_id
        return reverse("inventory:posting-detail", args=[posting])

    try:
        return once(request, act)
    except CannotDecant as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    except BookError as error:
        _explain(error, form, "happened_at")
    return None


def _explain(error: BookError, form: Form, when: str, amount: str = NON_FIELD_ERRORS) -> None:
    """Put the books' sentence beside its field; where the scale knows better, offer to book the rest as found."""
    if isinstance(error, WrongTime):
        form.add_error(when, str(error))
    elif isinstance(error, LotShort):
        form.short = True  # type: ignore[attr-defined]
        missing = error.lot.item.quantity(error.short)
        form.add_error(
            amount,
            f"{error} If the scale is right, tick to book {missing} as found; it is marked to be looked at.",
        )
    else:
        if isinstance(error, write_offs.ChangedSince):
            form.carry(error.seen)  # type: ignore[attr-defined]
        form.add_error(amount, str(error))


def _with_reason(
    request: StudioRequest, lot: Lot, form: WithReason, act: Any, page: dict[str, str], amount: str
) -> HttpResponse:
    """A page over one lot that asks how much and why, and posts it."""
    if request.method == "POST" and form.is_valid():
        signature = sign(request, happened_at=form.cleaned_data["happened_at"], reason=form.words())

        def do() -> str:
            posting: Posting = act(form.cleaned_data, signature)
            return posting.get_absolute_url()

        try:
            url = once(request, do)
        except BookError as error:
            _explain(error, form, "happened_at", amount)
        else:
            messages.success(request, page["done"])
            return redirect(url)
    return answer(
        request, "inventory/lot_taking.html", {"lot": lot, "form": form, **page}, refused=form.is_bound
    )


@allow(see=MAKERS, do=MAKERS)
def lot_take_out(request: StudioRequest, code: str) -> HttpResponse:
    """Scrap, a sample, or goods back to the supplier."""
    lot = lot_of(code)
    form = TakeOutForm(request.POST or None, lot=lot)

    def act(data: dict[str, Any], signature: Any) -> Posting:
        return write_offs.take_out(
            lot.pk,
            data["quantity"],
            kind=Reason.Kind(data["reason"].kind),
            signature=signature,
            book_found=data["found"],
        )

    page = {
        "heading": "Take out of",
        "what": "For what leaves the shelf other than into a batch or to a customer. Its cost leaves with it.",
        "button": "Take it out",
        "done": "Taken out.",
    }
    return _with_reason(request, lot, form, act, page, "quantity")


@allow(see=MAKERS, do=MAKERS)
def lot_put_right(request: StudioRequest, code: str) -> HttpResponse:
    """Found stock, or a quantity that was entered wrongly."""
    lot = lot_of(code)
    # Whoever comes from a batch whose count was wrong finds the difference worked out; the reason is theirs to say.
    asked = {
        name: request.GET.get(name, "").replace("\x00", "")[:200] for name in ("on_hand", "note", "seen")
    }
    form = PutRightForm(request.POST or None, lot=lot, initial=asked if asked["on_hand"] else None)

    def act(data: dict[str, Any], signature: Any) -> Posting:
        is_found = data["reason"].kind == Reason.Kind.FOUND
        verb = write_offs.find if is_found else write_offs.put_right
        return verb(lot.pk, data["on_hand"], signature=signature, seen=data["seen"])

    page = {
        "heading": "Put right",
        "what": "What was paid for the lot stays what it was; what it costs by weight or piece changes.",
        "button": "Put it right",
        "done": "Put right.",
    }
    return _with_reason(request, lot, form, act, page, "on_hand")


@allow(see=OWNER)
def reason_list(request: StudioRequest) -> HttpResponse:
    """The reasons on offer when stock is taken out or put right."""
    return answer(request, "inventory/reason_list.html", {"reasons": Reason.objects.all()})


def _reason(request: StudioRequest, form: ReasonLineForm, heading: str) -> HttpResponse:
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            form.save()
            return reverse("inventory:reason-list")

        return redirect(once(request, act))
    return answer(
        request, "inventory/reason_form.html", {"form": form, "heading": heading}, refused=form.is_bound
    )


@allow(see=OWNER, do=OWNER)
def reason_add(request: StudioRequest) -> HttpResponse:
    """A new reason."""
    return _reason(request, ReasonLineForm(request.POST or None), "Add a reason")


@allow(see=OWNER, do=OWNER)
def reason_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Reword a reason, or offer it no longer. What was posted keeps its words."""
    reason = get_object_or_404(Reason, pk=pk)
    return _reason(request, ReasonLineForm(request.POST or None, instance=reason), "Change a reason")
