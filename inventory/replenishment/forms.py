"""What people type about buying: the rules, an item's own, a supplier's terms."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models.functions import Lower

from inventory.models import DIMENSION_OF, Item, ReorderRules, Supplier
from studio.core.money import entry_money
from studio.core.percent import entry_percent
from studio.core.quantities import entry_text
from studio.web.forms import ChangeModelForm, money_field, percent_field, quantity_field

LEAST_SERVICE_PPM, MOST_SERVICE_PPM = 500_000, 999_900
SERVICES = (800_000, 850_000, 900_000, 950_000, 975_000, 980_000, 990_000, 999_000)
WINDOWS = (28, 60, 90, 180, 365)


def check_service(ppm: int | None) -> int | None:
    """A service level between 50 and 99.99 %."""
    if ppm is not None and not LEAST_SERVICE_PPM <= ppm <= MOST_SERVICE_PPM:
        raise ValidationError("Enter between 50 and 99.99 %. Nothing is ever there in 100 of 100 cases.")
    return ppm


def between(field: Any, least: int, most: int) -> None:
    """Hold a whole number between two."""
    field.validators = [
        MinValueValidator(least, f"Enter at least {least}."),
        MaxValueValidator(most, f"Enter at most {most}."),
    ]
    field.widget = forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"})


class RulesForm(ChangeModelForm):
    """The rules of buying."""

    class Meta:
        model = ReorderRules
        fields = ["service_ppm", "window_days", "horizon_days", "order_cost", "carrying_ppm"]

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rules = self.instance
        self.fields["service_ppm"] = percent_field(
            label="Service level",
            help_text="In how many of a hundred waits for a delivery nothing should run out. 95 % is common practice.",
        )
        self.fields["carrying_ppm"] = percent_field(
            label="A year on the shelf costs",
            help_text="As a share of the price: money tied up, room, what spoils. 20 % a year is common practice.",
        )
        self.fields["order_cost"] = money_field(
            currency,
            required=False,
            label="Placing an order costs",
            help_text="The time to write it, take it in and pay it, freight apart. Without it a year's cost is told "
            "without it, and no order is proposed for less than four weeks' use.",
        )
        window, horizon = self.fields["window_days"], self.fields["horizon_days"]
        between(window, 14, 365)
        between(horizon, 28, 365)
        window.help_text = (
            "Use of so many days past is averaged, days without use counted. 90 is common practice."
        )
        horizon.help_text = "How far levels are projected."
        self.initial["service_ppm"] = entry_percent(rules.service_ppm)
        self.initial["carrying_ppm"] = entry_percent(rules.carrying_ppm)
        if rules.order_cost is not None:
            self.initial["order_cost"] = entry_money(rules.order_cost)
        self.carry_what_is_shown()

    def clean_service_ppm(self) -> int | None:
        """Between the least and the most."""
        return check_service(self.cleaned_data["service_ppm"])

    def clean_carrying_ppm(self) -> int:
        """At most twice the price."""
        ppm: int = self.cleaned_data["carrying_ppm"]
        if ppm > 2_000_000:
            raise ValidationError("Enter at most 200 %.")
        return ppm


class ItemRulesForm(ChangeModelForm):
    """What holds for buying one item."""

    class Meta:
        model = Item
        fields = ["service_ppm", "room_for", "no_longer_bought", "replaced_by"]
        labels = {"no_longer_bought": "No longer bought"}
        help_texts = {"no_longer_bought": "What is left is used up; nothing more is proposed."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        item = self.instance
        self.fields["service_ppm"] = percent_field(
            required=False, label="Service level", help_text="Leave empty for the studio's."
        )
        self.fields["room_for"] = quantity_field(
            item.dimension,
            unit=item.unit,
            required=False,
            label="Room for",
            help_text="The most that fits on its shelf. Leave empty where room is no matter.",
        )
        others = Item.objects.current().materials().filter(made_here=False).exclude(pk=item.pk)
        self.fields["replaced_by"] = forms.ModelChoiceField(
            others.filter(unit__in=_same_dimension(item)).order_by(Lower("name")),
            required=False,
            label="Can be replaced by",
            empty_label="Nothing",
            help_text="Where this one runs short its page says how much of that one is to spare. Once this one is no "
            "longer bought and has run out, what was used of it is expected of that one.",
        )
        if item.service_ppm is not None:
            self.initial["service_ppm"] = entry_percent(item.service_ppm)
        if item.room_for is not None:
            self.initial["room_for"] = entry_text(item.room_for, item.unit)
        self.carry_what_is_shown()

    def clean_service_ppm(self) -> int | None:
        """Between the least and the most, or empty."""
        return check_service(self.cleaned_data["service_ppm"])

    def clean_replaced_by(self) -> Item | None:
        """Not one that is itself replaced by this, by whatever way round."""
        other: Item | None = self.cleaned_data["replaced_by"]
        if other is None:
            return None
        after = dict(Item.objects.exclude(replaced_by=None).values_list("pk", "replaced_by_id"))
        place, seen = other.pk, set()
        while place in after and place not in seen:
            seen.add(place)
            place = after[place]
            if place == self.instance.pk:
                raise ValidationError(
                    f"{other} is replaced by this one in the end. Choose another, or change that first."
                )
        return other


def _same_dimension(item: Item) -> list[str]:
    return [unit.value for unit, dimension in DIMENSION_OF.items() if dimension is item.dimension]


class TermsForm(ChangeModelForm):
    """On what terms a supplier sends."""

    class Meta:
        model = Supplier
        fields = ["minimum_order", "freight_per_order", "free_freight_from"]

    def __init__(self, *args: Any, currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        told = {
            "minimum_order": (
                "Least it takes an order for",
                "Goods alone. Leave empty where any order is taken.",
            ),
            "freight_per_order": ("Freight of an order", "What sending one order usually costs."),
            "free_freight_from": (
                "Sends free from",
                "Goods of at least so much. Leave empty where it never does.",
            ),
        }
        for name, (label, help_text) in told.items():
            self.fields[name] = money_field(currency, required=False, label=label, help_text=help_text)
            if (kept := getattr(self.instance, name)) is not None:
                self.initial[name] = entry_money(kept)
        self.carry_what_is_shown()
