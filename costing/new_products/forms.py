"""What people type about a scent that is only thought of."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models.functions import Lower

from batches.models import FormulaVersion
from costing.models import Scenario, ScenarioExpense
from inventory.models import Channel, Item, Kind, LoadBasis
from studio.core.money import entry_money
from studio.core.numerals import decimal_text, read_decimal, tidy
from studio.core.percent import WHOLE, entry_percent
from studio.core.quantities import Dimension, QuantityError, entry_text, parse_quantity
from studio.models import Studio
from studio.web.forms import ParsedField, money_field, percent_field, quantity_field
from studio.web.line_forms import Lines, lines_of

UNITS_AT_MOST = 1_000_000
RUN_AT_MOST = 10_000
MINUTES_AT_MOST = 10_000
PARTS_AT_MOST, QUOTES_AT_MOST, EXPENSES_AT_MOST = 20, 12, 12
COUNT = {"inputmode": "numeric", "autocomplete": "off"}
DECIMAL = {"inputmode": "decimal", "autocomplete": "off"}


class MinutesError(ValueError):
    """What was typed are no minutes. Its text is a sentence for a person."""


def read_minutes(text: str) -> int:
    """Minutes in thousandths: `7.5` is 7,500. Raises MinutesError."""
    number = read_decimal(tidy(text, MinutesError, example="7.5").strip(), MinutesError, places=3)
    if number > MINUTES_AT_MOST:
        raise MinutesError("That is more than a week of hands. Enter minutes, for example 7.5.")
    return int(number * 1000)


def _count(label: str, most: int, **more: Any) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, min_value=1, max_value=most, widget=forms.TextInput(attrs=COUNT), **more
    )


class StartForm(forms.Form):
    """Which formula it starts from."""

    version = forms.ModelChoiceField(
        FormulaVersion.objects.none(), label="Start from", empty_label="Choose a formula"
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        versions = FormulaVersion.objects.filter(fill_ug__isnull=False).select_related("formula")
        self.fields["version"].queryset = versions.order_by(Lower("formula__name"), "-number")  # type: ignore[attr-defined]


class ScenarioForm(forms.Form):
    """What is another than in the formula, how many are poured, and for how much they would sell."""

    name = forms.CharField(max_length=120, help_text="What the product would be called.")
    fragrance = forms.ModelChoiceField(
        Item.objects.none(), required=False, empty_label="As in the formula, or the one named beside"
    )
    fragrance_name = forms.CharField(
        max_length=120, required=False, label="Or one that is new", help_text="Its name; quotes go below."
    )
    load_basis = forms.ChoiceField(choices=LoadBasis.choices, label="Load is a share", required=False)
    first_units = _count("First run", RUN_AT_MOST, help_text="Candles.")
    run_units = _count("Usual run", RUN_AT_MOST, help_text="Candles, once it sells.")
    year_units = _count("Sold in a year", UNITS_AT_MOST, help_text="Candles.")
    note = forms.CharField(max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, studio: Studio, channels: Sequence[Channel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        made = {
            "load_ppm": percent_field(
                label="Fragrance load", required=False, help_text="Empty: as in the formula."
            ),
            "fill_ug": quantity_field(Dimension.MASS, unit=studio.mass_unit, label="Fill weight"),
            "run_minutes_milli": ParsedField(
                read_minutes,
                label="Hands for a run",
                unit_label="min",
                required=False,
                help_text="However large it is. Empty: as the formula takes.",
                widget=forms.TextInput(attrs=DECIMAL),
            ),
            "unit_minutes_milli": ParsedField(
                read_minutes,
                label="Hands for each candle",
                unit_label="min",
                required=False,
                help_text="Pouring and finish. Empty: as the formula takes.",
                widget=forms.TextInput(attrs=DECIMAL),
            ),
            "price_micros": money_field(studio.currency, label="At a price of", required=False),
        }
        self.fields.update(made)
        self.fields["channel"] = forms.ModelChoiceField(
            Channel.objects.filter(pk__in=[channel.pk for channel in channels]),
            label="Sold in",
            required=False,
            empty_label="Not decided",
        )
        scents = Item.objects.current().filter(kind=Kind.FRAGRANCE)
        self.fields["fragrance"].queryset = scents  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        """A name nobody gave yet."""
        name: str = self.cleaned_data["name"].strip()
        if Scenario.objects.annotate(low=Lower("name")).filter(low=name.lower()).exists():
            raise forms.ValidationError("A scenario of this name exists already. Give this one another.")
        return name

    def clean_load_ppm(self) -> int | None:
        """More than nothing, less than everything."""
        ppm: int | None = self.cleaned_data["load_ppm"]
        if ppm is not None and not 0 < ppm < WHOLE:
            raise forms.ValidationError("Enter a load above 0 and below 100 %, or leave it empty.")
        return ppm

    def clean_price_micros(self) -> int | None:
        """A price, or none yet."""
        price: int | None = self.cleaned_data["price_micros"]
        if price == 0:
            raise forms.ValidationError("Enter a price above zero, or leave it empty.")
        return price

    def clean(self) -> dict[str, Any]:
        """One scent, and a price together with where it is asked."""
        data = super().clean() or self.cleaned_data
        if data.get("fragrance") and data.get("fragrance_name"):
            self.add_error("fragrance_name", "Choose a fragrance or name a new one, not both.")
        elif named := data.get("fragrance_name"):
            self._look_at_scent(named, data.get("name", ""))
        if data.get("price_micros") and not data.get("channel") and "channel" not in self.errors:
            self.add_error("channel", "Choose where it would be sold at this price.")
        return data

    def _look_at_scent(self, named: str, product: str) -> None:
        """A new scent's name is not the candle's, nor that of something else."""
        if named.lower() == product.lower():
            said = "The candle has this name. Give its fragrance another, for example with “fragrance” behind it."
            self.add_error("fragrance_name", said)
            return
        known = Item.objects.annotate(low=Lower("name")).filter(low=named.lower()).first()
        if known is not None and known.kind != Kind.FRAGRANCE:
            said = f"{known} is on record and is no fragrance. Give the scent another name."
            self.add_error("fragrance_name", said)

    def columns(self) -> dict[str, Any]:
        """The scenario's own columns. Only after the form is valid."""
        data = dict(self.cleaned_data)
        data["fragrance_name"] = data["fragrance_name"].strip()
        data["load_basis"] = data["load_basis"] or LoadBasis.OF_WAX.value
        return data


class PartForm(forms.Form):
    """What goes with each candle."""

    item = forms.ModelChoiceField(Item.objects.current().materials(), label="Item", required=False)
    amount = forms.CharField(
        max_length=40, required=False, label="For each", widget=forms.TextInput(attrs=DECIMAL)
    )

    def __init__(self, *args: Any, items: Sequence[Item], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["item"].choices = [("", "Choose an item"), *((item.pk, str(item)) for item in items)]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """An item and how much of it."""
        data = super().clean() or self.cleaned_data
        item, text = data.get("item"), data.get("amount")
        if not item:
            if text and "item" not in self.errors:
                self.add_error("item", "Choose what this is.")
            return data
        if not text:
            self.add_error("amount", "Enter how much goes with each, for example 1 or 620 mm.")
            return data
        try:
            data["understood"] = parse_quantity(text, item.dimension)
        except QuantityError as error:
            self.add_error("amount", str(error))
        return data


class QuoteForm(forms.Form):
    """What was quoted for a pack of the scent."""

    pack = forms.CharField(
        label="A pack holds",
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="2.5 kg, 1 lb.",
    )
    from_packs = forms.IntegerField(
        label="From how many packs",
        min_value=1,
        max_value=10_000,
        required=False,
        widget=forms.TextInput(attrs=COUNT),
    )

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price_micros"] = money_field(currency, label="Price per pack", required=False)

    def clean(self) -> dict[str, Any]:
        """A pack and its price."""
        data = super().clean() or self.cleaned_data
        pack, price = data.get("pack"), data.get("price_micros")
        if pack:
            try:
                data["pack_quantity"] = parse_quantity(pack, Dimension.MASS)
            except QuantityError as error:
                self.add_error("pack", str(error))
        elif price or data.get("from_packs"):
            self.add_error("pack", "Enter what a pack holds, for example 2.5 kg.")
        if pack and not price and "price_micros" not in self.errors:
            self.add_error("price_micros", "Enter a price above zero.")
        return data


class ExpenseForm(forms.Form):
    """What developing it takes."""

    kind = forms.ChoiceField(choices=ScenarioExpense.Kind.choices, label="What for")
    words = forms.CharField(max_length=120, required=False, label="What")
    number = _count("How many", 10_000, required=False)

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["each_micros"] = money_field(currency, label="Each costs", required=False)

    def has_changed(self) -> bool:
        """Whether anything was entered; what for, which always shows a choice, is nothing by itself."""
        return any(name != "kind" for name in self.changed_data)

    def clean(self) -> dict[str, Any]:
        """A sum."""
        data = super().clean() or self.cleaned_data
        if data.get("each_micros") is None and "each_micros" not in self.errors:
            self.add_error("each_micros", "Enter what each costs, or empty the row.")
        return data


class MayBeNone(Lines):
    """Repeated lines of which there may be none."""

    def clean(self) -> None:
        """Nothing is needed."""


class Quotes(MayBeNone):
    """Quotes, each pack and number of packs once."""

    def clean(self) -> None:
        """Two prices for the same are a slip."""
        seen: set[tuple[int, int]] = set()
        for line in self.filled if not any(self.errors) else []:
            data = line.cleaned_data
            key = (data.get("pack_quantity", 0), data.get("from_packs") or 1)
            if key in seen:
                line.add_error("pack", "A price of this pack from as many is there already.")
            seen.add(key)


Parts = lines_of(PartForm, PARTS_AT_MOST, MayBeNone)
QuoteLines = lines_of(QuoteForm, QUOTES_AT_MOST, Quotes)
ExpenseLines = lines_of(ExpenseForm, EXPENSES_AT_MOST, MayBeNone)


def typed_amount(item: Item, amount: int) -> str:
    """How much goes with each, as it would be typed."""
    if item.dimension is Dimension.COUNT:
        return str(amount)
    return f"{entry_text(amount, item.unit)} {item.unit}"


def typed_from(version: FormulaVersion, studio: Studio) -> dict[str, Any]:
    """The form as it begins for a formula: everything as it is there."""
    return {
        "fill_ug": entry_text(version.fill_ug or 0, studio.mass_unit),
        "first_units": 24,
        "run_units": 48,
        "year_units": 300,
    }


def typed_again(scenario: Scenario, studio: Studio) -> dict[str, Any]:
    """A scenario as it would be typed again, but for its name."""

    def minutes(milli: int | None) -> str:
        return "" if milli is None else decimal_text(milli, 3, commas=False)

    return {
        "fragrance": scenario.fragrance_id,
        "fragrance_name": scenario.fragrance_name,
        "load_ppm": "" if scenario.load_ppm is None else entry_percent(scenario.load_ppm),
        "load_basis": scenario.load_basis,
        "fill_ug": entry_text(scenario.fill_ug, studio.mass_unit),
        "first_units": scenario.first_units,
        "run_units": scenario.run_units,
        "year_units": scenario.year_units,
        "run_minutes_milli": minutes(scenario.run_minutes_milli),
        "unit_minutes_milli": minutes(scenario.unit_minutes_milli),
        "channel": scenario.channel_id,
        "price_micros": "" if scenario.price_micros is None else entry_money(scenario.price_micros),
        "note": scenario.note,
    }


def typed_lines(
    scenario: Scenario,
) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    """Its parts, quotes and expenses as they would be typed again."""
    parts = [
        {"item": part.item_id, "amount": typed_amount(part.item, part.amount)}
        for part in scenario.parts.all()
    ]
    quotes = [
        {
            "pack": quote.typed_pack,
            "from_packs": quote.from_packs,
            "price_micros": entry_money(quote.price_micros),
        }
        for quote in scenario.quotes.all()
    ]
    expenses = [
        {
            "kind": expense.kind,
            "words": expense.words,
            "number": expense.number,
            "each_micros": entry_money(expense.each_micros),
        }
        for expense in scenario.expenses.all()
    ]
    return parts, quotes, expenses
