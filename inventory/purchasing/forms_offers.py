"""What people type when a supplier quotes: the pack, its prices by quantity, and how long the offer stands."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import Item, Offer, Supplier
from inventory.purchasing.offers import BREAKS_AT_MOST, Break, dearer_places, problems_of
from studio.core.money import entry_money
from studio.core.quantities import QuantityError, parse_quantity
from studio.web.forms import DayField, money_field
from studio.web.line_forms import FormSet, lines_of
from studio.web.requests import today

PACKS_AT_MOST = 10_000
LEAD_AT_MOST = 730
COUNT = {"inputmode": "numeric", "autocomplete": "off"}


class OfferForm(forms.Form):
    """Who quoted which pack of what, and on what terms."""

    supplier = forms.ModelChoiceField(Supplier.objects.all(), empty_label="Choose a supplier")
    item = forms.ModelChoiceField(Item.objects.current().materials(), empty_label="Choose an item")
    pack = forms.CharField(
        label="A pack holds",
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="As the supplier writes it: 2.5 kg, 25 lb, 250.",
    )
    supplier_code = forms.CharField(label="Supplier's article number", max_length=60, required=False)
    minimum_packs = forms.IntegerField(
        label="Least that can be ordered",
        min_value=1,
        max_value=PACKS_AT_MOST,
        initial=1,
        widget=forms.TextInput(attrs=COUNT),
        help_text="In packs.",
    )
    lead_days = forms.IntegerField(
        label="Days to deliver",
        min_value=0,
        max_value=LEAD_AT_MOST,
        required=False,
        widget=forms.TextInput(attrs=COUNT),
        help_text="From order to arrival, as stated.",
    )
    quoted_on = DayField(label="Quoted on")
    valid_until = DayField(label="Valid until", required=False, help_text="The last day it holds.")
    note = forms.CharField(max_length=200, required=False)
    dearer = forms.BooleanField(label="Yes, the price rises there", required=False)
    sure = forms.BooleanField(label="Yes, a pack is that large", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asks_dearer = self.asks_size = False

    def clean_quoted_on(self) -> Any:
        """A day that has come."""
        day = self.cleaned_data["quoted_on"]
        if day > today():
            raise ValidationError("This lies in the future. Give the day the supplier quoted.")
        return day

    def clean(self) -> dict[str, Any]:
        """The pack in base units, and an end that does not come before the beginning."""
        data = super().clean() or self.cleaned_data
        item, text = data.get("item"), data.get("pack")
        if item and text:
            self._read_pack(item, text, data)
        quoted_on, valid_until = data.get("quoted_on"), data.get("valid_until")
        if quoted_on and valid_until and valid_until < quoted_on:
            self.add_error("valid_until", "This is before the day it was quoted. Check both days.")
        return data

    def _read_pack(self, item: Item, text: str, data: dict[str, Any]) -> None:
        try:
            quantity = parse_quantity(text, item.dimension)
        except QuantityError as error:
            self.add_error("pack", str(error))
            return
        data["pack_quantity"] = quantity
        if quantity > item.plausible_limit and not data.get("sure"):
            self.asks_size = True
            self.add_error(
                "pack",
                f"A pack of {item.quantity(quantity)} is more than is expected at once. Check the unit, or tick that "
                "it is right.",
            )

    def terms(self) -> dict[str, Any]:
        """What `enter_offer` wants besides the breaks. Only after the form is valid."""
        data = self.cleaned_data
        names = ("supplier", "item", "pack_quantity", "supplier_code", "minimum_packs", "lead_days")
        kept = {name: data[name] for name in (*names, "quoted_on", "valid_until", "note")}
        return kept | {"typed_pack": data["pack"]}


class BreakForm(forms.Form):
    """From so many packs on, a pack costs so much."""

    from_packs = forms.IntegerField(
        label="From how many packs",
        min_value=1,
        max_value=PACKS_AT_MOST,
        required=False,
        widget=forms.TextInput(attrs=COUNT),
    )

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"] = money_field(currency, label="Price per pack")


Breaks = lines_of(BreakForm, BREAKS_AT_MOST, needed="Enter the price of a pack.")


def read_breaks(form: OfferForm, lines: FormSet) -> list[Break]:
    """The prices as typed; empty when something is wrong, with the sentence beside its field.

    Only after both are valid. The first row may leave the quantity to the least that can be ordered.
    """
    rows: list[Any] = [line for line in lines.forms if line.has_changed()]
    minimum = form.cleaned_data["minimum_packs"]
    found = []
    for place, row in enumerate(rows):
        from_packs = row.cleaned_data["from_packs"]
        if from_packs is None and place:
            row.add_error("from_packs", "Fill this in.")
        found.append(Break(from_packs or minimum, row.cleaned_data["price"]))
    if any(row.errors for row in rows):
        return []
    problems = problems_of(found, minimum)
    for problem in problems:
        rows[problem.place].add_error(problem.field, problem.sentence)
    if not problems and not form.cleaned_data["dearer"]:
        for place in dearer_places(found):
            form.asks_dearer = True
            rows[place].add_error(
                "price",
                "A pack costs more here than in the row above; prices usually fall. Check, or tick below.",
            )
    return [] if problems or form.asks_dearer else found


def typed(offer: Offer) -> dict[str, Any]:
    """An offer as it would be typed into the form again."""
    return {
        "supplier": offer.supplier_id,
        "item": offer.item_id,
        "pack": offer.typed_pack,
        "supplier_code": offer.supplier_code,
        "minimum_packs": offer.minimum_packs,
        "lead_days": offer.lead_days,
    }


def typed_breaks(offer: Offer) -> list[dict[str, Any]]:
    """The prices of an offer as they would be typed again."""
    return [{"from_packs": each.from_packs, "price": entry_money(each.price)} for each in offer.breaks.all()]
