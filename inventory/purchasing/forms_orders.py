"""What people type when they order: the draft and its lines, when it was sent, and goods arriving against it."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.items.forms import choices_of
from inventory.models import Item, Order, OrderLine, Supplier
from inventory.purchasing.forms_offers import COUNT, PACKS_AT_MOST
from inventory.purchasing.forms_packs import PackedLine
from inventory.purchasing.ordering import LineRequest, fingerprint
from studio.core.money import entry_money
from studio.core.quantities import QUANTITY_LIMIT
from studio.web.forms import DayField, MeanwhileForm, WhenField, money_field
from studio.web.line_forms import lines_of
from studio.web.requests import today

LINES_AT_MOST = 60


class OrderForm(MeanwhileForm):
    """The head of an order that is not sent yet."""

    supplier = forms.ModelChoiceField(Supplier.objects.all(), empty_label="Choose a supplier")
    expected_on = DayField(
        label="Expected",
        required=False,
        help_text="Leave empty for today and the lead time of what is ordered.",
    )
    note = forms.CharField(
        label="Note to the supplier",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    named = "this draft"

    def __init__(self, *args: Any, order: Order | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order = order
        if order:
            self.initial["seen"] = fingerprint(order)

    def clean_expected_on(self) -> Any:
        """A day that is still to come."""
        day = self.cleaned_data["expected_on"]
        if day and day < today():
            raise ValidationError("This day has passed. Give a later one, or leave it empty.")
        return day

    def now(self) -> str:
        """What stands there when it is sent."""
        return fingerprint(self.order) if self.order else ""


class OrderLineForm(PackedLine):
    """One line of an order: so many packs of an item."""

    line = forms.CharField(max_length=20, required=False, widget=forms.HiddenInput)
    item = forms.ModelChoiceField(Item.objects.current().materials(), empty_label="Choose an item")
    packs = forms.IntegerField(
        min_value=1, max_value=PACKS_AT_MOST, initial=1, widget=forms.TextInput(attrs=COUNT)
    )
    each = forms.CharField(
        label="Each holds", max_length=40, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    supplier_code = forms.CharField(label="Article number", max_length=60, required=False)
    drop = forms.BooleanField(label="Leave out", required=False)
    sure = forms.BooleanField(label="Yes, order this much", required=False)

    field_order = ["line", "item", "packs", "each", "in_one", "price", "supplier_code", "drop", "sure"]

    def __init__(
        self,
        *args: Any,
        items: list[Item],
        currency: str,
        costs: bool,
        kept: Mapping[str, OrderLine] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        number = str(self["line"].value() or "")
        self.before = (kept or {}).get(number)
        self.too_much = False
        self.fields["item"].choices = choices_of(items, "Choose an item")  # type: ignore[attr-defined]
        if costs:
            self.fields["price"] = money_field(currency, label="Price per pack", required=False)
        self.order_fields(self.field_order)

    def has_changed(self) -> bool:
        """A line that is left out counts as one that was never filled in; which line it was is not typed."""
        if self.is_bound and self["drop"].data:
            return False
        return bool(set(self.changed_data) - {"line"})

    def clean(self) -> dict[str, Any]:
        """The pack in base units, and no more than is believable."""
        data = super().clean() or self.cleaned_data
        item, text = data.get("item"), data.get("each")
        if item is None or not text:
            return data
        self.read_each(item, text, data)
        if "pack_quantity" not in data:
            return data
        quantity = data["pack_quantity"] * data.get("packs", 0)
        if quantity > QUANTITY_LIMIT:
            self.add_error(
                "each", "Nobody can deliver as much as that. Check the unit and the number of packs."
            )
        elif quantity > item.plausible_limit and not data.get("sure"):
            self.too_much = True
            self.add_error(
                "each",
                f"That is {item.quantity(quantity)} of {item}; more than {item.quantity(item.plausible_limit)} is not "
                "expected at once. Check the unit, or tick that it is right.",
            )
        return data

    def wanted(self) -> LineRequest:
        """The line, understood. Only after the form is valid.

        Who does not see costs leaves a price that somebody typed as it was, as long as item and pack are the same.
        """
        data = self.cleaned_data
        before, price = self.before, data.get("price")
        if "price" not in self.fields and before and before.offer_id is None:
            same = (before.item_id, before.pack_quantity) == (data["item"].pk, data["pack_quantity"])
            price = before.price if same else None
        return LineRequest(
            item=data["item"],
            packs=data["packs"],
            pack_quantity=data["pack_quantity"],
            typed_pack=data["each"],
            price=price,
            supplier_code=data["supplier_code"],
        )

    @staticmethod
    def typed(line: OrderLine, *, costs: bool) -> dict[str, Any]:
        """A line as it would be typed again. A price that came from an offer is left to the offer."""
        filled = {
            "line": line.pk,
            "item": line.item_id,
            "packs": line.packs,
            "each": line.typed_pack,
            "supplier_code": line.supplier_code,
        }
        if costs and line.offer_id is None and line.price is not None:
            filled["price"] = entry_money(line.price)
        return filled


OrderLines = lines_of(OrderLineForm, LINES_AT_MOST, needed="Order at least one thing.")


class SendOrderForm(forms.Form):
    """When an order went out, and when it should arrive."""

    sent_at = WhenField(label="Sent")
    expected_on = DayField(label="Expected", required=False)


class OpenAgainForm(forms.Form):
    """Nothing to say: the press alone."""
