"""What people type when stock is decanted, taken out, found or put right."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.ledger.forms import HappenedField
from inventory.lots.decanting import Jar
from inventory.lots.forms import find_lot, read_amount
from inventory.lots.write_offs import seen_of
from inventory.models import Item, Lot, Reason
from studio.core.quantities import Dimension
from studio.web.forms import ChangeModelForm, quantity_field
from studio.web.line_forms import lines_of

JARS_AT_MOST = 24
SAME_AT_MOST = 50


def amount_field(item: Item, **kwargs: Any) -> forms.CharField:
    """A field for a quantity of an item, its unit beside it."""
    kwargs.setdefault("max_length", 40)
    field = forms.CharField(
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}), **kwargs
    )
    field.unit_label = "" if item.dimension is Dimension.COUNT else item.unit  # type: ignore[attr-defined]
    return field


class JarForm(forms.Form):
    """So many containers alike, and what goes into each."""

    count = forms.IntegerField(
        label="How many",
        min_value=1,
        max_value=SAME_AT_MOST,
        initial=1,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    container = forms.CharField(max_length=40, required=False)
    place = forms.CharField(max_length=60, required=False)

    field_order = ["count", "each", "container", "place", "tare"]

    def __init__(self, *args: Any, item: Item, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.item = item
        self.fields["each"] = amount_field(item, label="Each gets")
        self.fields["tare"] = quantity_field(Dimension.MASS, unit="g", label="Weighs empty", required=False)
        self.order_fields(self.field_order)

    def clean_each(self) -> int:
        """Base units that go into each container."""
        return read_amount(self.cleaned_data["each"], self.item)

    def jars(self) -> list[Jar]:
        """The containers of this line. Only after the form is valid."""
        data = self.cleaned_data
        return [Jar(data["each"], data["container"], data["place"], data["tare"])] * data["count"]


JarLines = lines_of(JarForm, JARS_AT_MOST, needed="Say what goes into at least one container.")


class DecantForm(forms.Form):
    """What else a decanting says: a second lot poured together with this one, and whether the container is empty."""

    also_code = forms.CharField(
        label="Together with lot",
        max_length=20,
        required=False,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        help_text="Only when two lots are poured into one container: it becomes a lot with two parents.",
    )
    emptied = forms.BooleanField(
        label="The container is empty now",
        required=False,
        help_text="What clings to it is booked as scrap; what it cost goes along with the rest.",
    )
    found = forms.BooleanField(label="Book the difference as found", required=False)
    happened_at = HappenedField()

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lot = lot
        self.short = False
        self.fields["also_amount"] = amount_field(lot.item, label="of which from that lot", required=False)
        self.order_fields(["also_code", "also_amount", "emptied", "found", "happened_at"])
        self.also: Lot | None = None

    def clean(self) -> dict[str, Any]:
        """The second lot and its amount, both or neither."""
        data = super().clean() or self.cleaned_data
        code, text = data.get("also_code", "").strip(), data.get("also_amount", "").strip()
        data["also_understood"] = 0
        if code:
            try:
                self.also = find_lot(code)
            except ValidationError as error:
                self.add_error("also_code", error)
            else:
                self._check_also(self.also)
            if not text:
                self.add_error("also_amount", "Say how much came from that lot.")
        if text:
            if not code:
                self.add_error("also_code", "Give the code of the second lot.")
            try:
                data["also_understood"] = read_amount(text, self.lot.item)
            except ValidationError as error:
                self.add_error("also_amount", error)
        return data

    def _check_also(self, other: Lot) -> None:
        if other.pk == self.lot.pk:
            self.add_error("also_code", "That is this lot. Name another, or leave it empty.")
        elif other.item_id != self.lot.item_id:
            self.add_error(
                "also_code",
                f"Lot {other.spaced_code} is {other.item}, not {self.lot.item}. Only lots of one item mix.",
            )


def _reasons(kinds: Iterable[Reason.Kind]) -> list[Any]:
    """The reasons on offer, in groups where there are several kinds. One query."""
    groups: dict[str, list[tuple[int, str]]] = {kind: [] for kind in kinds}
    for reason in Reason.objects.filter(kind__in=groups, retired=False):
        groups[reason.kind].append((reason.pk, reason.words))
    return [
        ("", "Choose a reason"),
        *((Reason.Kind(kind).label, rows) for kind, rows in groups.items() if rows),
    ]


class WithReason(forms.Form):
    """A reason from the studio's list, and room for a word more."""

    kinds: tuple[Reason.Kind, ...] = ()
    reason = forms.ModelChoiceField(Reason.objects.filter(retired=False))
    note = forms.CharField(max_length=200, required=False)
    happened_at = HappenedField()

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lot = lot
        self.fields["reason"].choices = _reasons(self.kinds)  # type: ignore[attr-defined]

    def clean_reason(self) -> Reason:
        """A reason of a kind that is done here."""
        reason: Reason = self.cleaned_data["reason"]
        if reason.kind not in self.kinds:
            raise ValidationError("Choose one from the list.")
        return reason

    def words(self) -> str:
        """What stands in the books: the reason, and the note beside it."""
        data = self.cleaned_data
        return f"{data['reason'].words}: {data['note']}" if data["note"] else data["reason"].words


class TakeOutForm(WithReason):
    """Scrap, a sample, or goods back to the supplier."""

    kinds = (Reason.Kind.SCRAP, Reason.Kind.SAMPLE, Reason.Kind.SENT_BACK)
    found = forms.BooleanField(label="Book the difference as found", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.short = False
        self.fields["quantity"] = amount_field(self.lot.item, label="How much")
        self.order_fields(["quantity", "found", "reason", "note", "happened_at"])

    def clean_quantity(self) -> int:
        """Base units."""
        return read_amount(self.cleaned_data["quantity"], self.lot.item)


class PutRightForm(WithReason):
    """More was found than the books hold, or the quantity was entered wrongly."""

    kinds = (Reason.Kind.FOUND, Reason.Kind.CORRECTION)
    seen = forms.CharField(max_length=20, required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("seen", seen_of(self.lot))
        self.fields["on_hand"] = amount_field(self.lot.item, label="There really is")
        self.order_fields(["on_hand", "reason", "note", "happened_at"])

    def carry(self, seen: str) -> None:
        """Have the page carry how the lot stands now, which it shows: a second press, knowing of it, is taken."""
        shown = self.data.copy()  # type: ignore[attr-defined]
        shown[self.add_prefix("seen")] = seen
        self.data = shown

    def clean_on_hand(self) -> int:
        """Base units that are really there."""
        return read_amount(self.cleaned_data["on_hand"], self.lot.item)

    def clean(self) -> dict[str, Any]:
        """What is found is more than the books hold."""
        data = super().clean() or self.cleaned_data
        reason, on_hand = data.get("reason"), data.get("on_hand")
        if reason and on_hand is not None:
            lot = self.lot
            if reason.kind == Reason.Kind.FOUND and on_hand <= lot.on_hand:
                self.add_error(
                    "on_hand",
                    f"The books hold {lot.item.quantity(lot.on_hand)}. Found is more than that; "
                    "what is missing is taken out as scrap.",
                )
            elif on_hand == lot.on_hand:
                self.add_error("on_hand", "The books hold exactly this. Nothing needs putting right.")
            elif on_hand > lot.item.plausible_limit:
                self.add_error("on_hand", f"{lot.item.quantity(on_hand)} is not expected. Check the unit.")
        return data


class ReasonLineForm(ChangeModelForm):
    """A reason on the studio's list."""

    class Meta:
        model = Reason
        fields = ["kind", "words", "retired"]
        labels = {"kind": "For", "words": "Reason"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.instance.pk:
            del self.fields["retired"]
        else:
            self.carry_what_is_shown()
