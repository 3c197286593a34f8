"""What people type about stock, turned into exact figures or a sentence beside the field."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator
from django.forms import BaseFormSet, formset_factory

from inventory.deliveries import Arrival
from inventory.models import DIMENSION_OF, Delivery, Item, Kind, Lot, Supplier, Unit
from studio.codes import is_valid, near, normalise, spaced
from studio.forms import (
    ChangeForm,
    ChangeModelForm,
    DayField,
    ParsedField,
    ReasonForm,
    WhenField,
    money_field,
    percent_field,
    read_price,
    temperature_field,
)
from studio.models import Studio
from studio.percent import entry_percent
from studio.quantities import QUANTITY_LIMIT, Dimension, QuantityError, entry_text, parse_quantity
from studio.temperatures import entry_temperature


class SupplierForm(ChangeModelForm):
    """A supplier."""

    class Meta:
        model = Supplier
        fields = ["name", "contact", "email", "phone", "lead_days", "notes"]
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.carry_what_is_shown()


def _density(text: str) -> int:
    """Grams per millilitre as micrograms per millilitre."""
    amount = parse_quantity(text.replace("g/ml", "").replace("g/mL", ""), Dimension.MASS, unit="g")
    if not 300_000 <= amount <= 3_000_000:
        raise QuantityError("A density lies between 0.3 and 3 g/mL. Check the data sheet, section 9.")
    return amount


class ItemForm(ChangeModelForm):
    """An item kept in stock."""

    class Meta:
        model = Item
        fields = [
            "name",
            "kind",
            "made_here",
            "unit",
            "place",
            "shelf_life_days",
            "density_ug_per_ml",
            "flash_point_mc",
            "maximum_load_ppm",
            "maximum_load_basis",
            "expected_at_most",
            "notes",
            "retired",
        ]
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        item = self.instance
        self.fields["density_ug_per_ml"] = ParsedField(
            _density,
            required=False,
            label="Density",
            unit_label="g/mL",
            help_text="From the data sheet, section 9.",
        )
        self.fields["flash_point_mc"] = temperature_field(
            studio.scale,
            required=False,
            label="Flash point",
            help_text="From the safety data sheet, section 9.",
        )
        self.fields["maximum_load_ppm"] = percent_field(
            required=False,
            label="Maximum load",
            help_text="A wax: the fragrance it holds. A fragrance: the most that may be used, from its certificate.",
        )
        self.fields["maximum_load_basis"].label = "Maximum is a share"
        self.fields["maximum_load_basis"].required = False
        self.fields["expected_at_most"] = forms.CharField(
            required=False,
            max_length=40,
            label="Largest delivery expected",
            help_text="A larger quantity is asked about, so that a slip of the unit is caught. For example 20 kg.",
        )
        # A century; beyond it a slip of the finger would reach past the end of the calendar.
        self.fields["shelf_life_days"].validators.append(MaxValueValidator(36_500))
        self.fields["shelf_life_days"].help_text = "In days from arrival or making, where no date is given."
        if not item.pk:
            del self.fields["retired"]
            self.initial.setdefault("unit", studio.mass_unit)
            return
        if item.density_ug_per_ml:
            self.initial["density_ug_per_ml"] = entry_text(item.density_ug_per_ml, "g")
        if item.flash_point_mc is not None:
            self.initial["flash_point_mc"] = entry_temperature(item.flash_point_mc, studio.scale)
        if item.maximum_load_ppm is not None:
            self.initial["maximum_load_ppm"] = entry_percent(item.maximum_load_ppm)
        if item.expected_at_most is not None:
            self.initial["expected_at_most"] = f"{entry_text(item.expected_at_most, item.unit)} {item.unit}"
        self.carry_what_is_shown()

    def clean(self) -> dict[str, Any]:
        """What depends on more than one field."""
        data = super().clean() or self.cleaned_data
        unit = data.get("unit")
        if unit and data.get("expected_at_most"):
            try:
                data["expected_at_most"] = parse_quantity(
                    data["expected_at_most"], DIMENSION_OF[Unit(unit)], unit=unit
                )
            except QuantityError as error:
                self.add_error("expected_at_most", str(error))
        elif "expected_at_most" in data:
            data["expected_at_most"] = None
        self._check_unit(data)
        if data.get("maximum_load_ppm") is not None and not data.get("maximum_load_basis"):
            self.add_error("maximum_load_basis", "Say whether the maximum is of wax or of melt; they differ.")
        if data.get("made_here") and data.get("kind") == Kind.FINISHED:
            self.add_error(
                "made_here", "A finished good is always made here; this is for blends used in other batches."
            )
        return data

    def _check_unit(self, data: dict[str, Any]) -> None:
        unit, kind = data.get("unit"), data.get("kind")
        if not unit or not kind:
            return
        dimension = DIMENSION_OF[Unit(unit)]
        if kind in {Kind.WAX, Kind.FRAGRANCE, Kind.DYE, Kind.ADDITIVE} and dimension is not Dimension.MASS:
            self.add_error("unit", "Wax, fragrance, dye and additives are weighed. Choose a unit of weight.")
        elif kind in {Kind.WICK, Kind.VESSEL, Kind.LID, Kind.LABEL} and dimension is Dimension.MASS:
            self.add_error(
                "unit", "Wicks, vessels, lids and labels are counted or measured. Choose each, or a length."
            )
        elif kind == Kind.FINISHED and dimension is not Dimension.COUNT:
            self.add_error("unit", "Finished goods are counted. Choose each.")
        elif self.instance.pk:
            before = Item.objects.get(pk=self.instance.pk)
            if before.dimension is not dimension and (before.lots.exists() or before.formula_lines.exists()):
                self.add_error(
                    "unit",
                    f"Its lots or formulas are kept by {before.dimension.value}; that cannot change any more.",
                )


class DeliveryForm(forms.ModelForm):
    """The head of a delivery."""

    arrived_at = WhenField(label="Arrived", help_text="Leave empty for now.")

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


class DeliveryLineForm(forms.Form):
    """One line of the invoice, in the units it was written in."""

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

    def __init__(self, *args: Any, studio: Studio, items: list[Item], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.studio = studio
        self.by_id = {item.pk: item for item in items}
        # One query for the page, however many lines: the choices are handed in, not read per line.
        self.fields["item"].choices = [("", "Choose an item"), *((item.pk, str(item)) for item in items)]  # type: ignore[attr-defined]
        self.too_much = False

    def clean(self) -> dict[str, Any]:
        """Quantity and price need the item to be understood."""
        data = super().clean() or self.cleaned_data
        item = data.get("item")
        if item is None:
            return data
        if each := data.get("each"):
            try:
                data["pack_quantity"] = parse_quantity(each, item.dimension)
            except QuantityError as error:
                self.add_error("each", str(error))
        if text := data.get("price"):
            try:
                data["understood_price"] = read_price(text, item.dimension, self.studio.currency)
            except ValidationError as error:
                self.add_error("price", error)
        self._check_amount(item, data)
        if data.get("lot_per_pack") and data.get("packs", 0) > CODES_OF_LINE:
            self.add_error(
                "lot_per_pack",
                f"At most {CODES_OF_LINE} packs of a line get a code each. Enter more lines, or one lot for all.",
            )
        return data

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
        return self.cleaned_data["item"]

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
        )


class BaseLines(BaseFormSet):
    """Lines of a delivery; empty ones are left out, and one at least is needed."""

    def clean(self) -> None:
        """At least one line."""
        if any(self.errors):
            return
        filled = [form for form in self.forms if form.has_changed()]
        if not filled:
            raise ValidationError("Enter at least one line.")
        coded = sum(form.cleaned_data["packs"] for form in filled if form.cleaned_data["lot_per_pack"])
        if coded > CODES_OF_DELIVERY:
            raise ValidationError(
                f"{coded} packs would get a code each; one delivery takes at most {CODES_OF_DELIVERY}. "
                "Enter the rest as another delivery."
            )


LINES_AT_MOST = 60
DeliveryLines = formset_factory(
    DeliveryLineForm,
    formset=BaseLines,
    extra=1,
    max_num=LINES_AT_MOST,
    absolute_max=LINES_AT_MOST,
    validate_max=True,
)


class LotForm(ChangeForm, forms.Form):
    """What may be put right on a lot without the books: where it stands, and when it expires."""

    place = forms.CharField(max_length=60, required=False)
    expires_on = DayField(label="Expires", required=False)
    supplier_lot = forms.CharField(label="Supplier's lot", max_length=60, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.carry_what_is_shown()


class AllowForm(ReasonForm):
    """The owner's word that a lot may be used all the same, and until when."""

    until = DayField(label="Until and including", help_text="It may be planned, used and sent out up to this day.")
    field_order = ("until", "reason")


def find_lot(text: str) -> Lot:
    """The lot a typed or scanned code names; a ValidationError that says what may have been meant."""
    code = normalise(text)
    lot = Lot.objects.select_related("item").filter(code=code).first()
    if lot:
        return lot
    if is_valid(code):
        raise ValidationError(f"No lot carries the code {spaced(code)}.")
    close = list(Lot.objects.filter(code__in=near(code)).select_related("item")[:3])
    if close:
        meant = " or ".join(f"{lot.spaced_code} ({lot.item})" for lot in close)
        raise ValidationError(f"{text.strip()} is mistyped. Did you mean {meant}?")
    raise ValidationError(
        f"{text.strip()} is not a lot code. Type the code on the container, for example L04 K7C."
    )


def read_amount(text: str, item: Item) -> int:
    """A quantity of an item in base units, a bare number in the item's unit; a ValidationError otherwise."""
    try:
        return parse_quantity(text, item.dimension, unit=item.unit)
    except QuantityError as error:
        raise ValidationError(str(error)) from error


class SendForm(forms.Form):
    """Goods leaving from one lot."""

    quantity = forms.CharField(
        label="How many", max_length=40, widget=forms.TextInput(attrs={"inputmode": "decimal"})
    )
    to = forms.CharField(label="To whom", max_length=120, help_text="A customer, a market, an event.")
    channel = forms.CharField(max_length=60, required=False, help_text="Web shop, market, wholesale, sample.")
    reference = forms.CharField(label="Order reference", max_length=60, required=False)
    happened_at = WhenField()

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lot = lot

    def clean_quantity(self) -> int:
        """Base units of the lot's item."""
        return read_amount(self.cleaned_data["quantity"], self.lot.item)
