"""What people type about costs billed after a delivery, and about the span of days of a report."""

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.ledger.forms import HappenedField
from inventory.models import Delivery
from studio.core.money import parse_money
from studio.models import Studio
from studio.web.forms import DayField, ParsedField

INVOICE, CREDIT = "invoice", "credit"


class LateCostForm(forms.Form):
    """An invoice for freight or duty, or a credit note for it, that came after the delivery."""

    paper = forms.ChoiceField(
        choices=[(INVOICE, "Invoice: adds to the cost"), (CREDIT, "Credit note: takes cost back")],
        label="What came",
    )
    spread = forms.ChoiceField(choices=Delivery.Spread.choices, label="Share it")
    reference = forms.CharField(max_length=60, required=False, label="Its number")
    note = forms.CharField(
        max_length=300, required=False, label="What for", help_text="For example, customs duty."
    )
    happened_at = HappenedField(label="It came")

    field_order = ["paper", "amount", "spread", "reference", "note", "happened_at"]

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"] = ParsedField(
            lambda text: parse_money(text, allow_zero=False, currency=studio.currency),
            unit_label=studio.currency,
            label="Amount",
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
            help_text="Without a sign, for an invoice and a credit note alike.",
        )
        self.order_fields(self.field_order)

    def signed_amount(self) -> int:
        """Millionths, below zero for a credit note. Only after the form is valid."""
        amount: int = self.cleaned_data["amount"]
        return -amount if self.cleaned_data["paper"] == CREDIT else amount


class SpanForm(forms.Form):
    """From one day to another, both counted. A day left empty is the first or the last of what is usual."""

    first = DayField(label="From", required=False)
    last = DayField(label="To", required=False)

    def __init__(self, *args: Any, usual: tuple[date, date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.usual = usual

    def clean(self) -> dict[str, Any]:
        """Both days, in order."""
        data = super().clean() or self.cleaned_data
        if self.errors:
            return data
        data["first"] = data.get("first") or self.usual[0]
        data["last"] = data.get("last") or self.usual[1]
        if data["last"] < data["first"]:
            self.add_error("last", ValidationError("The last day lies before the first. Swap the two days."))
        return data
