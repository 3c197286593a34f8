"""What people type about channels: their terms, the studio's price points, and the price asked for a product."""

from hashlib import sha256
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from costing.models import AskedPrice, ChannelTerms, PriceRounding
from inventory.models import Channel
from studio.core.money import MoneyError, entry_money, parse_money
from studio.core.numerals import decimal_text, read_decimal, tidy
from studio.core.percent import WHOLE, entry_percent
from studio.models import Studio
from studio.web.forms import ChangeModelForm, DayField, MeanwhileForm, ParsedField, money_field, percent_field

UNITS_AT_MOST = 100_000
ENDINGS_AT_MOST = 6
DECIMAL = {"inputmode": "decimal", "autocomplete": "off"}


class UnitsError(ValueError):
    """What was typed is no number of pieces. Its text is a sentence for a person."""


def read_units(text: str) -> int:
    """A number of pieces on average, in thousandths: `1.8` is 1,800. Raises UnitsError."""
    number = read_decimal(tidy(text, UnitsError, example="1.8").strip(), UnitsError, places=3)
    if not 0 < number <= UNITS_AT_MOST:
        raise UnitsError("Enter how many pieces an order or a day has on average, for example 1.8.")
    return int(number * 1000)


def below_whole(ppm: int | None, what: str) -> int:
    """A share below 100 %, empty for none."""
    if ppm is not None and ppm >= WHOLE:
        raise ValidationError(f"{what} of 100 % or more leaves nothing. Enter less.")
    return ppm or 0


class TermsForm(forms.Form):
    """What selling in a channel takes from a day on."""

    title = "Terms"

    from_on = DayField(label="From")
    tax = forms.ChoiceField(
        label="Sales tax or VAT",
        choices=[
            ("none", "None"),
            ("inside", "Inside the price asked"),
            ("added", "Added on top of the price asked"),
        ],
    )
    fee_on_tax = forms.BooleanField(
        label="The percentage is taken of the tax too", required=False, initial=True
    )
    share_of = forms.ModelChoiceField(
        Channel.objects.none(),
        label="Prices follow those in",
        required=False,
        empty_label="Nothing: prices of its own",
        help_text="For wholesale. A price entered here goes before it.",
    )

    def __init__(self, *args: Any, studio: Studio, channel: Channel | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        currency = studio.currency
        made = {
            "percent_ppm": percent_field(
                label="Percentage fees",
                required=False,
                help_text="Of what the customer pays: payment, platform.",
            ),
            "fixed_micros": money_field(
                currency,
                label="Fixed fees",
                required=False,
                help_text="For each order, or the stall for a day.",
            ),
            "shipping_micros": money_field(
                currency,
                label="Shipping",
                required=False,
                help_text="What you pay for an order beyond what the customer pays.",
            ),
            "units_milli": ParsedField(
                read_units,
                label="Pieces in an order or a day",
                help_text="On average; they share the fixed fees and the shipping.",
                widget=forms.TextInput(attrs=DECIMAL),
            ),
            "tax_ppm": percent_field(label="Rate of tax", required=False),
            "discount_ppm": percent_field(
                label="Usual discount", required=False, help_text="Off the price asked."
            ),
            "discounted_ppm": percent_field(
                label="Sold at that discount",
                required=False,
                help_text="Of all that is sold. Empty: everything.",
            ),
            "share_ppm": percent_field(
                label="At this share of them",
                required=False,
                help_text="Of that price without the tax in it, for example 50.",
            ),
        }
        self.fields.update(made)
        others = Channel.objects.filter(retired=False)
        self.fields["share_of"].queryset = others.exclude(pk=channel.pk) if channel else others  # type: ignore[attr-defined]

    def clean_percent_ppm(self) -> int:
        """Below the whole price."""
        return below_whole(self.cleaned_data["percent_ppm"], "A fee")

    def clean_discount_ppm(self) -> int:
        """Below the whole price."""
        return below_whole(self.cleaned_data["discount_ppm"], "A discount")

    def clean_discounted_ppm(self) -> int:
        """A share; empty is everything."""
        ppm = self.cleaned_data["discounted_ppm"]
        if ppm is not None and ppm > WHOLE:
            raise ValidationError("This is a share of all that is sold. Enter 100 or less.")
        return WHOLE if ppm is None else ppm

    def clean_tax_ppm(self) -> int:
        """A rate no country goes beyond."""
        ppm = self.cleaned_data["tax_ppm"]
        if ppm is not None and ppm > WHOLE:
            raise ValidationError("A rate of tax above 100 % is a slip. Enter for example 20.")
        return ppm or 0

    def clean(self) -> dict[str, Any]:
        """What belongs together: a tax and its rate, a channel and the share of its prices."""
        data = super().clean() or self.cleaned_data
        for name in ("fixed_micros", "shipping_micros"):
            if name in data:
                data[name] = data[name] or 0
        if data.get("tax") == "none":
            data["tax_ppm"] = 0
        elif data.get("tax") and not data.get("tax_ppm") and "tax_ppm" not in self.errors:
            self.add_error("tax_ppm", "Enter the rate, for example 20, or choose that there is none.")
        share, of = data.get("share_ppm"), data.get("share_of")
        if of and not share and "share_ppm" not in self.errors:
            self.add_error("share_ppm", "Enter the share, for example 50, or let it have prices of its own.")
        if share and not of:
            self.add_error("share_of", "Choose whose prices it is a share of, or leave the share empty.")
        if share and share > WHOLE:
            self.add_error("share_ppm", "Enter 100 or less.")
        return data

    @staticmethod
    def typed(row: ChannelTerms) -> dict[str, Any]:
        """Terms as they would be typed again."""
        shown = {
            name: entry_percent(getattr(row, name)) for name in ("percent_ppm", "tax_ppm", "discount_ppm")
        }
        return {name: text for name, text in shown.items() if text != "0"} | {
            "tax": row.tax,
            "fee_on_tax": row.fee_on_tax,
            "fixed_micros": entry_money(row.fixed_micros) if row.fixed_micros else "",
            "shipping_micros": entry_money(row.shipping_micros) if row.shipping_micros else "",
            "units_milli": decimal_text(row.units_milli, 3, commas=False),
            "discounted_ppm": "" if row.discounted_ppm == WHOLE else entry_percent(row.discounted_ppm),
            "share_of": row.share_of_id,
            "share_ppm": "" if row.share_ppm is None else entry_percent(row.share_ppm),
        }


class ChannelForm(ChangeModelForm):
    """A channel's name, and whether anything is sold there still."""

    class Meta:
        model = Channel
        fields = ["name", "retired"]
        labels = {"retired": "No longer sold there"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            self.carry_what_is_shown()
        else:
            del self.fields["retired"]


class PricePointsForm(MeanwhileForm):
    """Which prices the studio asks."""

    named = "the price points"
    way = forms.ChoiceField(
        label="A suggested price goes", choices=PriceRounding.Way.choices, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        self.currency = studio.currency
        self.kept = PriceRounding.objects.first() or PriceRounding(endings=[0])
        kwargs["initial"] = {
            "way": self.kept.way,
            "step_micros": entry_money(self.kept.step_micros),
            "endings": " ".join(entry_money(ending) for ending in self.kept.endings),
            "seen": self.now(),
        }
        super().__init__(*args, **kwargs)
        self.fields["step_micros"] = money_field(
            self.currency,
            label="Price points repeat every",
            help_text="1 for prices such as 12.95, 10 for 19, 29, 39.",
        )
        self.fields["endings"] = ParsedField(
            self._read_endings,
            label="And end in",
            max_length=100,
            help_text="Up to six, set apart by spaces: 0 0.50 0.95.",
        )

    def now(self) -> str:
        """How it stands."""
        ends = ",".join(str(ending) for ending in self.kept.endings)
        return sha256(f"{self.kept.way} {self.kept.step_micros} {ends}".encode()).hexdigest()[:20]

    def _read_endings(self, text: str) -> list[int]:
        endings = [parse_money(word, currency=self.currency) for word in text.replace(";", " ").split()]
        if not endings or len(endings) > ENDINGS_AT_MOST:
            raise MoneyError(f"Enter one to {ENDINGS_AT_MOST} endings, set apart by spaces.")
        return endings

    def clean(self) -> dict[str, Any]:
        """Endings lie below the step."""
        data = super().clean()
        step, endings = data.get("step_micros"), data.get("endings")
        if step == 0:
            self.add_error("step_micros", "Enter a sum above zero, for example 1.")
        elif step and endings and max(endings) >= step:
            self.add_error(
                "endings", "An ending lies below the step. For 12.95 with a step of 1, enter 0.95."
            )
        return data


class AskedPriceForm(forms.Form):
    """What is asked for one product in one channel from a day on."""

    channel = forms.ModelChoiceField(Channel.objects.none(), empty_label="Choose a channel")
    from_on = DayField(label="From")
    ends = forms.BooleanField(label="No longer sold there", required=False)
    note = forms.CharField(max_length=200, required=False, label="Why")

    def __init__(self, *args: Any, studio: Studio, channels: list[Channel], **kwargs: Any) -> None:
        # Two forms with a channel share a page, and an id may be there once.
        kwargs.setdefault("auto_id", "asked_%s")
        super().__init__(*args, **kwargs)
        self.fields["price_micros"] = money_field(
            studio.currency, label="Price asked", required=False, help_text="With the tax where it is inside."
        )
        self.fields["channel"].queryset = Channel.objects.filter(pk__in=[each.pk for each in channels])  # type: ignore[attr-defined]
        self.order_fields(["channel", "price_micros", "from_on", "ends", "note"])

    def clean(self) -> dict[str, Any]:
        """A price, or an end."""
        data = super().clean() or self.cleaned_data
        price = data.get("price_micros")
        if data.get("ends"):
            data["price_micros"] = None
        elif "price_micros" not in self.errors and not price:
            self.add_error(
                "price_micros", "Enter a price above zero, or tick that it is no longer sold there."
            )
        return data

    @staticmethod
    def typed(row: AskedPrice) -> str:
        """A price as it would be typed again."""
        return "" if row.price_micros is None else entry_money(row.price_micros)
