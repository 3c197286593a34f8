"""What people type when goods arrive: the head of a delivery and its lines, in the units on the invoice."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.deliveries.receiving import Arrival
from inventory.ledger.forms import HappenedField
from inventory.models import Delivery, Item, OrderLine
from inventory.purchasing.forms_packs import PackedLine
from studio.core.money import Price, entry_money
from studio.core.quantities import QUANTITY_LIMIT
from studio.models import Studio
from studio.web.forms import DayField, ModelForm, money_field, read_price
from studio.web.line_forms import Lines, lines_of


class DeliveryForm(ModelForm):
    """The head of a delivery."""

    arrived_at = HappenedField(label="Arrived", help_text="Empty means now.")

    class Meta:
        model = Delivery
        fields = ["supplier", "reference", "spread"]
        labels = {"spread": "Share freight"}

    field_order = ["supplier", "reference", "arrived_at", "freight", "spread"]

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["freight"] = money_field(
            studio.currency,
            required=False,
            label="Freight and duty",
            help_text="What carriage cost for the whole delivery.",
        )
        self.fields["supplier"].empty_label = "Choose a supplier"  # type: ignore[attr-defined]
        self.order_fields(self.field_order)


# Each code is a lot with a history of its own, written on a container by hand; more is a slip of the tick.
CODES_OF_LINE, CODES_OF_DELIVERY = 200, 600


class DeliveryLineForm(PackedLine):
    """One line of the invoice, in the units it was written in.

    `ordered` are the lines of the order the delivery is entered from; a line that names one of them is of its item,
    counts as filled in unless its packs are cleared, and may leave the price to the order.
    """

    order_line = forms.CharField(max_length=20, required=False, widget=forms.HiddenInput)
    item = forms.ModelChoiceField(Item.objects.current().materials(), empty_label="Choose an item")
    packs = forms.IntegerField(
        min_value=1, max_value=10_000, initial=1, widget=forms.TextInput(attrs={"inputmode": "numeric"})
    )
    each = forms.CharField(
        label="Each holds", max_length=40, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    price = forms.CharField(max_length=40, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    supplier_lot = forms.CharField(label="Supplier's lot", max_length=60, required=False)
    expires_on = DayField(label="Expires", required=False)
    lot_per_pack = forms.BooleanField(label="Code each pack", required=False)
    sure = forms.BooleanField(label="Yes, this much arrived", required=False)

    def __init__(
        self,
        *args: Any,
        studio: Studio,
        items: list[Item],
        ordered: Mapping[str, OrderLine] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio
        self.by_id = {item.pk: item for item in items}
        # One query for the page, however many lines: the choices are handed in, not read per line.
        self.fields["item"].choices = [("", "Choose an item"), *((item.pk, str(item)) for item in items)]  # type: ignore[attr-defined]
        self.too_much = False
        self.ordered = (ordered or {}).get(str(self["order_line"].value() or ""))
        if self.ordered:
            self.fields["item"].queryset = Item.objects.filter(pk=self.ordered.item_id)  # type: ignore[attr-defined]
            self.fields["packs"].help_text = "Clear it when none came."
            if self.ordered.price is not None:
                self.fields["price"].required = False
                self.fields["price"].help_text = "Leave empty for the price it was ordered at."

    def has_changed(self) -> bool:
        """A line that was ordered is filled in from the start; without packs, none of it came."""
        if self.ordered and self.is_bound:
            return (self["packs"].data or "").strip() not in {"", "0"}
        return super().has_changed()

    def clean(self) -> dict[str, Any]:
        """Quantity and price need the item to be understood."""
        data = super().clean() or self.cleaned_data
        item = data.get("item")
        if data.get("order_line") and not self.ordered:
            raise ValidationError("This is not on the order any more. Open the page anew from the order.")
        if item is None:
            return data
        if each := data.get("each"):
            self.read_each(item, each, data)
        if text := data.get("price"):
            try:
                data["understood_price"] = read_price(text, item.dimension, self.studio.currency)
            except ValidationError as error:
                self.add_error("price", error)
        elif self.ordered and self.ordered.price is not None and "price" not in self.errors:
            self._take_price(self.ordered, self.ordered.price, data)
        self._check_amount(item, data)
        if data.get("lot_per_pack") and data.get("packs", 0) > CODES_OF_LINE:
            self.add_error(
                "lot_per_pack",
                f"At most {CODES_OF_LINE} packs of a line get a code each. Enter more lines, or one lot for all.",
            )
        return data

    def _take_price(self, ordered: OrderLine, price: int, data: dict[str, Any]) -> None:
        if data.get("pack_quantity", ordered.pack_quantity) != ordered.pack_quantity:
            self.add_error(
                "price", "The packs are not those that were ordered. Enter the price on the invoice."
            )
        else:
            data["price"] = f"{entry_money(price)} per pack"
            data["understood_price"] = Price("per_pack", price)

    def _check_amount(self, item: Item, data: dict[str, Any]) -> None:
        quantity = data.get("pack_quantity", 0) * data.get("packs", 0)
        if quantity > QUANTITY_LIMIT:
            self.add_error(
                "each", "The books cannot hold as much as that. Check the unit and the number of packs."
            )
            return
        if quantity > item.plausible_limit and not data.get("sure"):
            self.too_much = True
            self.add_error(
                "each",
                f"That is {item.quantity(quantity)} of {item}; more than {item.quantity(item.plausible_limit)} is not "
                "expected at once. Check the unit, or tick that this much arrived.",
            )

    def clean_item(self) -> Item:
        """The item, from those already read."""
        item: Item = self.cleaned_data["item"]
        return item

    def arrival(self) -> Arrival:
        """The line, understood. Only after the form is valid. Raises MoneyError when the price is out of range."""
        data = self.cleaned_data
        return Arrival(
            item=data["item"],
            packs=data["packs"],
            pack_quantity=data["pack_quantity"],
            goods_value=data["understood_price"].total(data["packs"], data["pack_quantity"]),
            typed_quantity=data["each"],
            typed_price=data["price"],
            supplier_lot=data["supplier_lot"],
            expires_on=data["expires_on"],
            lot_per_pack=data["lot_per_pack"],
            order_line_id=self.ordered.pk if self.ordered else None,
        )


class DeliveredLines(Lines):
    """Lines of a delivery, with no more codes among them than one delivery gives out."""

    def clean(self) -> None:
        """At least one line, and not too many codes."""
        super().clean()
        if any(self.errors):
            return
        coded = sum(form.cleaned_data["packs"] for form in self.filled if form.cleaned_data["lot_per_pack"])
        if coded > CODES_OF_DELIVERY:
            raise ValidationError(
                f"{coded} packs would get a code each; one delivery takes at most {CODES_OF_DELIVERY}. "
                "Enter the rest as another delivery."
            )


LINES_AT_MOST = 60
DeliveryLines = lines_of(DeliveryLineForm, LINES_AT_MOST, DeliveredLines)
