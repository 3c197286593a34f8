"""What people ask of prices: a margin or markup, a price to try, an hour to be earned."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from costing.prices.pricing import Goal
from inventory.models import Channel
from studio.core.percent import WHOLE
from studio.models import Studio
from studio.web.forms import money_field, percent_field

UNITS_AT_MOST = 1_000_000
PPM_AT_MOST = 10 * WHOLE
BY_AT_MOST = 900_000
COUNT = {"inputmode": "numeric", "autocomplete": "off"}


class WishForm(forms.Form):
    """What a suggested price should leave: a margin, a share of the price, or a markup, a share of the cost."""

    goal = forms.ChoiceField(
        label="Suggest a price that leaves a",
        choices=[("margin", "margin, of price"), ("markup", "markup, on cost")],
        required=False,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ppm"] = percent_field(label="Percentage", required=False)

    def clean_ppm(self) -> int | None:
        """A margin stays below the whole price."""
        ppm: int | None = self.cleaned_data["ppm"]
        if ppm is None:
            return ppm
        if self.cleaned_data.get("goal") != Goal.MARKUP and ppm >= WHOLE:
            raise ValidationError(
                "A margin is a share of the price and stays below 100 %. For more, choose markup."
            )
        if ppm > PPM_AT_MOST:
            raise ValidationError("Enter a markup of 1,000 % or less.")
        return ppm


class TryForm(WishForm):
    """The same, and a price to try in one channel with what it would have to sell."""

    units = forms.IntegerField(
        label="Sold in a month",
        required=False,
        min_value=1,
        max_value=UNITS_AT_MOST,
        widget=forms.TextInput(attrs=COUNT),
    )
    labour = forms.ChoiceField(
        label="Labour",
        choices=[("fixed", "is paid whatever is sold"), ("varies", "is saved when less is made")],
        required=False,
    )

    def __init__(self, *args: Any, studio: Studio, channels: list[Channel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["channel"] = forms.ChoiceField(
            label="Try in",
            choices=[(str(channel.pk), channel.name) for channel in channels],
            required=False,
        )
        self.fields["price"] = money_field(studio.currency, label="A price of", required=False)
        self.fields["fixed"] = money_field(
            studio.currency,
            label="To be earned first",
            required=False,
            help_text="A stall, a mould, a month's rent.",
        )
        self.order_fields(["goal", "ppm", "channel", "price", "units", "fixed", "labour"])


class HourForm(forms.Form):
    """What an hour of hands should bring."""

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["hour"] = money_field(
            studio.currency,
            label="An hour of hands should bring",
            required=False,
            help_text="Empty: as much as the middle of what you sell.",
        )


class ByForm(forms.Form):
    """By how much each input changes, and where it is sold."""

    def __init__(self, *args: Any, channels: list[Channel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["channel"] = forms.ChoiceField(
            label="Sold in",
            choices=[(str(channel.pk), channel.name) for channel in channels],
            required=False,
        )
        self.fields["by"] = percent_field(label="Each input changes by", required=False)

    def clean_by(self) -> int | None:
        """A change that leaves something."""
        by: int | None = self.cleaned_data["by"]
        if by is not None and not 0 < by <= BY_AT_MOST:
            raise ValidationError("Enter a change above 0 and up to 90 %.")
        return by
