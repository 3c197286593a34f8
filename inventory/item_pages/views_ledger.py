"""An item's ledger: every line of the books about it, filtered, each with what was there after it."""

from django import forms
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404

from inventory.items import ledger_lines
from inventory.models import Item, Movement
from studio.core.codes import normalise
from studio.core.days import begin, first_instant_after
from studio.models import User
from studio.people.access import EVERYONE, allow
from studio.web import tables
from studio.web.forms import DayField
from studio.web.requests import StudioRequest, answer, page_of


class LedgerForm(forms.Form):
    """Which lines are wanted; what cannot be read is said beside its field and left out."""

    kind = forms.ChoiceField(
        choices=[("", "Everything"), *Movement.Kind.choices], required=False, label="What"
    )
    lot = forms.CharField(max_length=20, required=False)
    by = forms.ModelChoiceField(User.objects.all(), required=False, empty_label="Everybody")
    from_on = DayField(label="From", required=False)
    to_on = DayField(label="To", required=False)

    def condition(self) -> Q:
        """What the lines must fulfil, as far as it could be understood."""
        data = self.cleaned_data
        wanted = Q()
        if kind := data.get("kind"):
            wanted &= Q(kind=kind)
        if lot := data.get("lot"):
            wanted &= Q(lot__code=normalise(lot))
        if by := data.get("by"):
            wanted &= Q(posting__by=by)
        if day := data.get("from_on"):
            wanted &= Q(posting__happened_at__gte=begin(day))
        if day := data.get("to_on"):
            wanted &= Q(posting__happened_at__lt=first_instant_after(day))
        return wanted


@allow(see=EVERYONE)
def item_ledger(request: StudioRequest, pk: int) -> HttpResponse:
    """The whole ledger of an item."""
    item = get_object_or_404(Item, pk=pk)
    form = LedgerForm(request.GET)
    form.is_valid()
    condition = form.condition()
    lines = Movement.objects.filter(lot__item=item)
    if tables.wanted(request):
        return ledger_lines.BOOKS.file(request, ledger_lines.shown_with_levels(lines, condition))
    page = page_of(request, ledger_lines.latest_first(lines.filter(condition)))
    levels = ledger_lines.levels(lines, [line.pk for line in page])
    context = {
        "item": item,
        "form": form,
        "page": page,
        "table": ledger_lines.BOOKS.shown(
            request, [ledger_lines.Entry(line, levels[line.pk]) for line in page]
        ),
        "filtered": bool(condition),
        "any": lines.exists(),
    }
    return answer(request, "inventory/item_ledger.html", context, refused=bool(form.errors))
