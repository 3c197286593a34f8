"""Which days, and at which standard prices."""

from datetime import date
from typing import Any

from django import forms

from costing.standard.price_basis import PriceBasis
from costing.standard.standard import Bought
from inventory.deliveries.forms_late_costs import SpanForm

# What is on hand now says nothing of a past day.
OF_A_DAY = (PriceBasis.LATEST, PriceBasis.REPLACEMENT)


class BasisForm(forms.Form):
    """What a run's prices are held against."""

    basis = forms.ChoiceField(label="Against", required=False, choices=[])

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = {
            PriceBasis.LATEST: "Latest receipt",
            PriceBasis.REPLACEMENT: "Offers of the day",
        }
        self.fields["basis"].choices = [(basis.value, words[basis]) for basis in OF_A_DAY]  # type: ignore[attr-defined]

    @property
    def bought(self) -> Bought:
        """The basis as far as it could be understood."""
        asked = self.data.get("basis", "") if self.is_bound else ""
        return Bought(
            PriceBasis(asked) if asked in {basis.value for basis in OF_A_DAY} else PriceBasis.LATEST
        )


class VarianceForm(SpanForm, BasisForm):
    """The days runs were finished in, and the basis."""

    def __init__(self, *args: Any, usual: tuple[date, date], **kwargs: Any) -> None:
        super().__init__(*args, usual=usual, **kwargs)
