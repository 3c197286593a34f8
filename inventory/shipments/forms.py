"""What people type when goods leave and when they come back."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Protocol

from django import forms
from django.core.exceptions import ValidationError

from inventory.customers.customers import Contact
from inventory.ledger.forms import HappenedField
from inventory.lots.forms import read_amount
from inventory.lots.moving import Taking
from inventory.models import Channel, Customer, Dispatch, Item, Kind, Lot
from inventory.sales_orders.forms import CustomerOrderLineForm, WantedLines
from inventory.shipments.dispatching import Back, Out
from inventory.shipments.scanning import read_scans
from studio.core.days import begin
from studio.core.quantities import entry_text
from studio.web.filters import whole_number
from studio.web.forms import ChangeForm, DayField
from studio.web.line_forms import lines_of

NAMES_AT_MOST = 300  # offered while typing
LINES_AT_MOST = 20


class HeadForm(forms.Form):
    """Why goods leave, to whom, by which order; whatever is not known stays empty."""

    kind = forms.ChoiceField(label="What it is", choices=Dispatch.Kind.choices, initial=Dispatch.Kind.SALE)
    customer = forms.CharField(
        label="To whom",
        max_length=120,
        required=False,
        help_text="A person, a shop, a market. Empty where it is not known.",
        widget=forms.TextInput(attrs={"list": "customer-names", "autocomplete": "off"}),
    )
    channel = forms.CharField(
        max_length=60,
        required=False,
        help_text="Web shop, market, wholesale.",
        widget=forms.TextInput(attrs={"list": "channel-names", "autocomplete": "off"}),
    )
    reference = forms.CharField(label="Order reference", max_length=60, required=False)
    contact = forms.CharField(label="Whom to ask for", max_length=120, required=False)
    reach = forms.CharField(
        label="How to reach them",
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="E-mail, telephone, address. Shown to owner and makers only; what is on record already stays.",
    )
    happened_at = HappenedField()

    def clean(self) -> dict[str, Any]:
        """Somebody to be reached has a name."""
        data = super().clean() or self.cleaned_data
        if (data.get("reach") or data.get("contact")) and not data.get("customer"):
            self.add_error("customer", "Give a name to whoever is to be reached there.")
        return data

    def said(self) -> dict[str, Any]:
        """What `dispatching.send` wants to know. Only after the form is valid."""
        data = self.cleaned_data
        who = Contact(data["customer"], data["contact"], data["reach"]) if data["customer"] else None
        return {
            "to": who,
            "kind": Dispatch.Kind(data["kind"]),
            "channel": data["channel"],
            "reference": data["reference"],
        }

    @staticmethod
    def names() -> dict[str, list[str]]:
        """Channels and customers on record, offered while typing; two queries."""
        known = Customer.objects.filter(erased_at=None).order_by("-pk").values_list("name", flat=True)
        return {
            "channel_names": list(Channel.objects.filter(retired=False).values_list("name", flat=True)),
            "customer_names": sorted(set(known[:NAMES_AT_MOST]), key=str.casefold),
        }


class ChangeHeadForm(ChangeForm, HeadForm):
    """The head of a dispatch that left. How to reach somebody is put right on their own page."""

    field_order = ["kind", "customer", "channel", "reference"]

    def __init__(self, *args: Any, dispatch: Dispatch, **kwargs: Any) -> None:
        kwargs["initial"] = {
            "kind": dispatch.kind,
            "customer": dispatch.customer.name if dispatch.customer else "",
            "channel": dispatch.channel.name if dispatch.channel else "",
            "reference": dispatch.reference,
        }
        super().__init__(*args, **kwargs)
        for name in ("contact", "reach", "happened_at"):
            del self.fields[name]
        self.carry_what_is_shown()

    def said(self) -> dict[str, Any]:
        """Only after the form is valid."""
        data = self.cleaned_data
        return {
            "to": Contact(data["customer"]) if data["customer"] else None,
            "kind": Dispatch.Kind(data["kind"]),
            "channel": data["channel"],
            "reference": data["reference"],
        }


class SendForm(HeadForm):
    """Goods leaving from one lot."""

    field_order = ["quantity"]

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lot = lot
        self.fields["quantity"] = forms.CharField(
            label="How many", max_length=40, widget=forms.TextInput(attrs={"inputmode": "decimal"})
        )
        self.order_fields(self.field_order)

    def clean_quantity(self) -> int:
        """Base units of the lot's item."""
        return read_amount(self.cleaned_data["quantity"], self.lot.item)


class MaybeWantedLines(WantedLines):
    """Lines of what is wanted, none where everything is scanned."""

    def clean(self) -> None:
        """Every product once."""
        if self.filled:
            super().clean()


MaybeWanted = lines_of(CustomerOrderLineForm, LINES_AT_MOST, MaybeWantedLines)


def scan_field(**kwargs: Any) -> forms.CharField:
    """A box a hand scanner types codes into, one to a line."""
    return forms.CharField(
        label="Scanned codes",
        max_length=12_000,
        required=False,
        widget=forms.Textarea(
            attrs={
                "rows": 4,
                "autocomplete": "off",
                "autocapitalize": "characters",
                "spellcheck": "false",
                "class": "scans",
            }
        ),
        **kwargs,
    )


class ScanForm(forms.Form):
    """Pieces that are in somebody's hands already."""

    scanned = scan_field(
        help_text="A code to a line, of the lot or of the batch; each line is one piece. "
        "For six alike write L04 K7C × 6."
    )


class Filled(Protocol):
    """A product with its lots that may leave, and how much of each is filled in, in base units by lot."""

    @property
    def item(self) -> Item: ...
    @property
    def lots(self) -> Sequence[Lot]: ...
    @property
    def filled(self) -> Mapping[int, int]: ...


class PickedLotsForm(forms.Form):
    """How many leave from each lot, the suggestion filled in; what is scanned is held against it."""

    def __init__(self, *args: Any, choices: Sequence[Filled], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.choices = choices
        self.lots: Mapping[int, Lot] = {lot.pk: lot for choice in choices for lot in choice.lots}
        for choice in choices:
            for lot in choice.lots:
                amount = choice.filled.get(lot.pk)
                self.fields[f"lot-{lot.pk}"] = forms.CharField(
                    label=f"From {lot.spaced_code}, {choice.item}",
                    max_length=40,
                    required=False,
                    initial=entry_text(amount, lot.item.unit) if amount else "",
                    widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
                )
        self.fields["check"] = scan_field(
            help_text="Scan every piece as it is packed and nothing leaves that was not picked; or leave this empty."
        )
        self.fields["check"].label = "Scan to check"

    def rows(self) -> list[tuple[Any, list[tuple[Lot, forms.BoundField]]]]:
        """Each choice with its lots and the field beside each."""
        return [(choice, [(lot, self[f"lot-{lot.pk}"]) for lot in choice.lots]) for choice in self.choices]

    def clean(self) -> dict[str, Any]:
        """Base units by lot, at least one; what was scanned is exactly that."""
        data = super().clean() or self.cleaned_data
        takings = []
        for pk, lot in self.lots.items():
            name = f"lot-{pk}"
            if text := (data.get(name) or "").strip():
                try:
                    if text.strip("0"):
                        takings.append(Taking(pk, read_amount(text, lot.item)))
                except ValidationError as error:
                    self.add_error(name, error)
        if not self.errors and not takings:
            raise ValidationError("Enter how many leave from at least one lot.")
        data["takings"] = takings
        if data.get("check") and not self.errors:
            self._hold_against_scans(data["check"], {each.lot_id: each.quantity for each in takings})
        return data

    def _hold_against_scans(self, text: str, picked: Mapping[int, int]) -> None:
        scanned = read_scans(text, rather=picked)
        for problem in scanned.problems:
            self.add_error("check", problem)
        for pk, pieces in scanned.pieces.items():
            lot = scanned.lots[pk]
            if pk not in picked:
                self.add_error(
                    "check",
                    f"{lot.item}, lot {lot.spaced_code}, is not among what was picked. Put it back, or enter how many "
                    "of it leave.",
                )
            elif pieces > picked[pk]:
                self.add_error(
                    "check",
                    f"{pieces} of lot {lot.spaced_code} are scanned and {picked[pk]} picked. Put "
                    f"{pieces - picked[pk]} back, or raise the quantity.",
                )
        for pk in picked:
            if (pieces := scanned.pieces.get(pk, 0)) < picked[pk]:
                lot = self.lots[pk]
                self.add_error(
                    "check",
                    f"{pieces} of {picked[pk]} of lot {lot.spaced_code} are scanned. Scan the rest, or empty the box.",
                )


@dataclass(frozen=True)
class BackRow:
    """A lot that left by a dispatch and what of it can come back."""

    lot: Lot
    out: Out
    fields: list[forms.BoundField] = field(default_factory=list)


class ReturnForm(forms.Form):
    """How many of each lot came back, where they were put, and why."""

    reason = forms.CharField(
        label="Why it came back",
        max_length=200,
        help_text="What is wrong with it, not who sent it: this stays in the books.",
    )
    happened_at = HappenedField(label="Came back")

    def __init__(self, *args: Any, rows: Sequence[tuple[Lot, Out]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots = {lot.pk: (lot, out) for lot, out in rows if out.quantity}
        for pk, (lot, _) in self.lots.items():
            self.fields[f"lot-{pk}"] = forms.CharField(
                label=f"Of lot {lot.spaced_code}",
                max_length=40,
                required=False,
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            )
            self.fields[f"place-{pk}"] = forms.CharField(label="Put where", max_length=60, required=False)

    def rows(self) -> list[BackRow]:
        """The lots with their fields."""
        return [
            BackRow(lot, out, [self[f"lot-{pk}"], self[f"place-{pk}"]])
            for pk, (lot, out) in self.lots.items()
        ]

    def clean(self) -> dict[str, Any]:
        """What came back; at least one piece."""
        data = super().clean() or self.cleaned_data
        backs = []
        for pk, (lot, _) in self.lots.items():
            if text := (data.get(f"lot-{pk}") or "").strip().lstrip("0"):
                try:
                    quantity = read_amount(text, lot.item)
                    backs.append(Back(pk, quantity, data.get(f"place-{pk}") or ""))
                except ValidationError as error:
                    self.add_error(f"lot-{pk}", error)
        if not self.errors and not backs:
            raise ValidationError("Enter how many came back of at least one lot.")
        data["backs"] = backs
        return data


def keys_typed(names: Collection[str], prefix: str = "lot-") -> list[int]:
    """The keys in names of fields such as `lot-7`; whatever is no key is left out."""
    typed = [name.removeprefix(prefix) for name in names if name.startswith(prefix)]
    return [key for text in typed if (key := whole_number(text)) is not None]


class SendOrderedForm(PickedLotsForm):
    """How many leave from each lot for a customer's order, what it is, and when."""

    kind = forms.ChoiceField(label="What it is", choices=Dispatch.Kind.choices, initial=Dispatch.Kind.SALE)
    happened_at = HappenedField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields([name for name in self.fields if name not in {"kind", "happened_at"}])


class DispatchFilter(forms.Form):
    """Which dispatches are shown. An odd value shows nothing less: what cannot be understood is left out."""

    q = forms.CharField(label="Name or reference", max_length=100, required=False)
    kind = forms.ChoiceField(
        label="What", choices=[("", "Everything"), *Dispatch.Kind.choices], required=False
    )
    channel = forms.ModelChoiceField(Channel.objects.all(), required=False, empty_label="Every channel")
    product = forms.ModelChoiceField(
        Item.objects.filter(kind=Kind.FINISHED), required=False, empty_label="Every product"
    )
    first = DayField(label="From", required=False)
    last = DayField(label="Up to", required=False)

    def is_valid(self) -> bool:
        """Always: a field that makes no sense counts as empty."""
        super().is_valid()
        for name in self.fields:
            self.cleaned_data.setdefault(name, "" if name in {"q", "kind"} else None)
        return True

    def span(self) -> tuple[datetime | None, datetime | None]:
        """The first instant that counts and the first that does not, on the studio's clock."""
        first, last = self.cleaned_data["first"], self.cleaned_data["last"]
        end = last + timedelta(days=1) if last else None
        return first and begin(first), end and begin(end)
