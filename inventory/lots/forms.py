"""What people type about a lot: its code, an amount of it, where it stands, the owner's word about it."""

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import Item, Lot
from studio.core.codes import is_valid, near, normalise, spaced
from studio.core.quantities import QuantityError, parse_quantity
from studio.web.forms import (
    ChangeForm,
    DayField,
    ReasonForm,
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

    until = DayField(
        label="Until and including", help_text="It may be planned, used and sent out up to this day."
    )
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
