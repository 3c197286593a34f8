"""What people type when fills are checked and lots are released."""

import re
from collections.abc import Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from batches.fill_checks.checking import TOLERANCES, WEIGHTS_AT_MOST
from batches.fill_checks.control_chart import FACTORS
from batches.fill_checks.net_contents import (
    OutsideTables,
)
from batches.formulas.fine_weights import fine_unit
from batches.models import Batch
from inventory.models import Unit
from studio.core.quantities import Dimension, QuantityError, entry_text, format_quantity, parse_quantity
from studio.models import Market, Studio
from studio.web.forms import WhenField, quantity_field

WEIGHED_IN = (Unit.GRAM, Unit.OUNCE, Unit.KILOGRAM, Unit.POUND)
# One weight a line; a list copied from a spreadsheet or a message has tabs, semicolons or commas with a space instead.
BETWEEN = re.compile(r"[\r\n\t;]+|,\s+")
SEVERAL = re.compile(r"[\d.]+(?: +[\d.]+)+", re.ASCII)
# A weight this far from what is declared is likelier a slip of the finger than a candle.
LEAST_SHARE, MOST_SHARE = 2, 2


def read_weights(text: str, unit: str) -> list[int]:
    """Weights in µg from a list typed or pasted, in its order; a bare number is in `unit`. ValidationError otherwise."""
    pieces = [piece.strip() for piece in BETWEEN.split(text) if piece.strip()]
    typed = [each for piece in pieces for each in (piece.split() if SEVERAL.fullmatch(piece) else [piece])]
    if len(typed) > WEIGHTS_AT_MOST:
        raise ValidationError(f"Enter at most {WEIGHTS_AT_MOST} weights at once; these are {len(typed)}.")
    weights, wrong = [], []
    for number, each in enumerate(typed, 1):
        try:
            weights.append(parse_quantity(each, Dimension.MASS, unit=unit))
        except QuantityError as error:
            wrong.append(ValidationError(f"Weight {number}, “{each[:20]}”: {error}"))
    if wrong:
        raise ValidationError(wrong[:3])
    return weights


def _list_field() -> forms.CharField:
    return forms.CharField(
        label="Weights",
        max_length=20_000,
        strip=False,
        widget=forms.Textarea(
            attrs={"rows": 12, "inputmode": "text", "autocomplete": "off", "spellcheck": "false"}
        ),
        help_text="One on each line, in the order they were poured. A pasted list works too.",
    )


class FillForm(forms.Form):
    """Weights of filled units, and what they are held against."""

    market = forms.ChoiceField(label="Rule", choices=Market.choices, widget=forms.RadioSelect)
    lot_size = forms.IntegerField(
        label="Units in the lot",
        min_value=1,
        max_value=1_000_000,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        help_text="All that were poured in this batch.",
    )
    unit = forms.ChoiceField(label="A bare number is in", choices=[(unit, unit) for unit in WEIGHED_IN])
    note = forms.CharField(max_length=200, required=False)
    sure = forms.BooleanField(required=False, label="Yes, these weights are right")
    happened_at = WhenField(label="Weighed")

    def __init__(self, *args: Any, batch: Batch, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch, self.far_off = batch, False
        shown_in = fine_unit(studio)
        self.fields["declared"] = quantity_field(
            Dimension.MASS, unit=shown_in, label="Declared net weight", help_text="As it stands on the label."
        )
        self.fields["weights"] = _list_field()
        self.fields["tare"] = quantity_field(
            Dimension.MASS,
            unit=shown_in,
            label="Each vessel weighs empty",
            required=False,
            help_text="Only where the filled vessel was weighed. Where vessels differ, weigh the melt alone.",
        )
        self.initial.setdefault("unit", shown_in)
        self.order_fields(
            ["declared", "market", "lot_size", "weights", "unit", "tare", "sure", "note", "happened_at"]
        )

    def clean_declared(self) -> int:
        """µg the label declares."""
        return int(self.cleaned_data["declared"])

    def clean(self) -> dict[str, Any]:
        """The net weights in µg as `nets`, believable, and a declared weight the rule speaks of."""
        data = super().clean() or self.cleaned_data
        declared, market = data.get("declared"), data.get("market")
        if declared and market:
            try:
                TOLERANCES[Market(market)](declared)
            except OutsideTables as error:
                self.add_error("declared", str(error))
        if "weights" not in self.errors and "unit" not in self.errors:
            self._read(data)
        nets, lot_size = data.get("nets"), data.get("lot_size")
        if nets and lot_size and len(nets) > lot_size:
            self.add_error(
                "lot_size", f"{len(nets)} weights were entered; the lot has at least as many units."
            )
        return data

    def _read(self, data: dict[str, Any]) -> None:
        tare = data.get("tare") or 0
        try:
            gross = read_weights(data["weights"], data["unit"])
        except ValidationError as error:
            self.add_error("weights", error)
            return
        if not gross:
            self.add_error("weights", "Enter at least one weight.")
            return
        nets = [weight - tare for weight in gross]
        if empty := next((number for number, net in enumerate(nets, 1) if net <= 0), 0):
            self.add_error("tare", f"Weight {empty} is not more than the empty vessel.")
            return
        data["nets"] = nets
        if data.get("declared"):
            self._check_believable(nets, data["declared"], bool(data.get("sure")))

    def _check_believable(self, nets: Sequence[int], declared: int, sure: bool) -> None:
        """Ask once about a weight that is likelier a slip."""
        for number, net in enumerate(nets, 1):
            if not sure and not declared <= net * LEAST_SHARE <= declared * LEAST_SHARE * MOST_SHARE:
                self.far_off = True
                self.add_error(
                    "weights",
                    f"Weight {number}, {format_quantity(net, 'g', places=2)} net, is far from the "
                    f"{format_quantity(declared, 'g', places=2)} declared. Check the unit, or tick that it is right.",
                )
                return


class ChartForm(forms.Form):
    """How a fill check is looked at: single weights or means of several, and the limits capability is held against."""

    group = forms.TypedChoiceField(
        label="Plot",
        coerce=int,
        required=False,
        choices=[(1, "each weight"), *((size, f"means of {size} in a row") for size in FACTORS)],
    )

    def __init__(self, *args: Any, unit: Unit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, label in (("low", "Lower limit"), ("high", "Upper limit")):
            self.fields[name] = quantity_field(Dimension.MASS, unit=unit, label=label, required=False)

    def clean(self) -> dict[str, Any]:
        """Limits in their order."""
        data = super().clean() or self.cleaned_data
        low, high = data.get("low"), data.get("high")
        if low is not None and high is not None and low >= high:
            self.add_error("high", "The upper limit lies above the lower one.")
        return data

    @staticmethod
    def typed(low: int, high: int, unit: Unit) -> dict[str, str]:
        """What would have been typed for these limits in µg."""
        return {"low": entry_text(low, unit), "high": entry_text(high, unit)}


class ReleaseForm(forms.Form):
    """What was looked at before a lot goes on sale.

    `unweighed`: no fill check passed, which is ticked. `against`: what the owner releases it in spite of, and says why.
    `shown` carries the marks of what the page told of the lot.
    """

    label_right = forms.BooleanField(
        label="The label is right: name, net weight, batch code, maker",
        error_messages={"required": "Look at the label of the lot, and tick when it is right."},
    )
    warning_on = forms.BooleanField(
        label="The warning label is on every unit, in sight and uncovered",
        error_messages={"required": "Look at every unit, and tick when each carries its warning label."},
    )
    note = forms.CharField(max_length=120, required=False)
    shown = forms.CharField(required=False, widget=forms.HiddenInput())

    def __init__(self, *args: Any, unweighed: bool, against: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if unweighed:
            self.fields["unweighed"] = forms.BooleanField(
                label="No fill check passed; it goes on sale without",
                error_messages={"required": "Weigh some first, or tick that it goes on sale without."},
            )
        if against:
            self.fields["despite"] = forms.CharField(
                label=f"Why it is released although {against}",
                max_length=80,
                error_messages={"required": "Put that right first, or say why it is released all the same."},
            )
        self.order_fields(["label_right", "warning_on", "unweighed", "despite", "note"])
