"""What people type about complaints, turned into facts or a sentence beside the field."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django import forms
from django.db.models import Q

from batches.complaints.complaining import Candle, candle_of
from batches.danger_signs import signs_of_danger
from batches.models import Batch, Complaint
from inventory.models import Channel, Item, Kind, Lot
from studio.core.codes import is_valid, near, normalise, spaced
from studio.web.forms import ChangeForm, DayField, ReceivedField, WhenField

MISSES_AT_MOST = 6


@dataclass(frozen=True)
class Miss:
    """A code one slip away from what was typed, and what carries it."""

    code: str
    what: str


def near_candles(code: str) -> list[Miss]:
    """Lots and batches of candles whose code is one slip away from a code as stored."""
    codes = near(code)
    lots = Lot.objects.filter(code__in=codes, item__kind=Kind.FINISHED).select_related("item")
    batches = Batch.objects.with_product().filter(code__in=codes, version__formula__item__kind=Kind.FINISHED)
    found = [Miss(lot.code, f"lot of {lot.item}") for lot in lots[:MISSES_AT_MOST]]
    found += [Miss(batch.code, f"batch of {batch.item}") for batch in batches[:MISSES_AT_MOST]]
    return found


def candles_known() -> Any:
    """Products that may be complained of: sold now, or made once."""
    return Item.objects.filter(Q(retired=False) | Q(lots__isnull=False), kind=Kind.FINISHED).distinct()


class ComplaintForm(ChangeForm, forms.Form):
    """What somebody said, about which candle, and who it was."""

    kind = forms.ChoiceField(label="What it is about", choices=[("", "Choose"), *Complaint.Kind.choices])
    what = forms.CharField(
        label="What happened",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="In the customer's words. Names belong below, where they can be erased.",
    )
    fire = forms.BooleanField(
        label="Something else caught fire, or nearly did",
        required=False,
        help_text="Beyond the candle itself: a table, a curtain, the label.",
    )
    units = forms.IntegerField(
        label="How many candles",
        min_value=1,
        max_value=9999,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
    )
    happened_on = DayField(label="Happened on", required=False, help_text="Where it is known.")
    told_at = WhenField(label="You were told on")
    code = forms.CharField(
        label="Code on the jar",
        required=False,
        max_length=60,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        help_text="Of the lot or the batch. Lost? Say below what is known; the lots it may be of are worked out.",
    )
    item = forms.ModelChoiceField(
        Item.objects.none(), label="Product", required=False, empty_label="As the code says"
    )
    channel = forms.ModelChoiceField(
        Channel.objects.none(), label="Bought through", required=False, empty_label="Not known"
    )
    sold_from = DayField(label="Bought between", required=False)
    sold_until = DayField(label="and", required=False)
    customer = forms.CharField(label="Who complains", required=False, max_length=120)
    reach = forms.CharField(label="How to reach them", required=False, max_length=200)
    reference = forms.CharField(label="Order reference", required=False, max_length=60)

    def __init__(self, *args: Any, complaint: Complaint | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.candle = Candle()
        self.misses: list[Miss] = []
        self.fields["item"].queryset = candles_known()  # type: ignore[attr-defined]
        self.fields["channel"].queryset = Channel.objects.all()  # type: ignore[attr-defined]
        if complaint:
            del self.fields["told_at"]
            self.carry_what_is_shown()

    @property
    def signs_of_danger(self) -> tuple[str, ...]:
        """Why what was sent may have to be reported, whether the rest of it can be taken down or not."""
        data = self.cleaned_data if self.is_bound and self.errors is not None else {}
        return signs_of_danger(data.get("kind", ""), fire=data.get("fire", False), told=data.get("what", ""))

    def clean_code(self) -> str:
        """The code as stored, of a lot or batch of candles; near matches are kept to choose from."""
        typed = self.cleaned_data["code"]
        code = normalise(typed)
        if not code:
            return ""
        if candle := candle_of(code):
            self.candle = candle
            return code
        self.misses = near_candles(code)
        shown = spaced(code) if is_valid(code) else typed
        meant = "Did you mean one of those below?" if self.misses else "Look at it again, or leave it empty."
        raise forms.ValidationError(f"No lot or batch of candles carries {shown}. {meant}")

    def clean(self) -> dict[str, Any]:
        """The code or the product, and days in order."""
        data = super().clean()
        if "code" in data and not data["code"] and not data.get("item") and "item" not in self.errors:
            self.add_error(
                "item",
                "Type the code on the jar above, or choose the product. Ask which it was; what has to be "
                "reported does not wait for it.",
            )
        begin, end = data.get("sold_from"), data.get("sold_until")
        if begin and end and begin > end:
            self.add_error("sold_until", "This lies before the first day. Turn the two round.")
        return data

    def said(self) -> dict[str, Any]:
        """Columns of the complaint, the customer left out. Only after the form is valid."""
        data = self.cleaned_data
        same = ("kind", "what", "fire", "units", "happened_on", "channel", "sold_from", "sold_until")
        item_id = self.candle.item_id or data["item"].pk
        return {name: data[name] for name in same} | {
            "reference": data["reference"].strip(),
            "lot": self.candle.lot,
            "batch": self.candle.batch,
            "item": Item.objects.get(pk=item_id),
        }

    def changes(self) -> dict[str, Any]:
        """Of the columns those that this person changed, so that a colleague's change elsewhere stays."""
        said, changed = self.said(), set(self.changed_data)
        names = changed & said.keys()
        if changed & {"code", "item"}:
            names |= {"lot", "batch", "item"}
        return {name: said[name] for name in names}

    @staticmethod
    def shown(complaint: Complaint) -> dict[str, Any]:
        """What the form shows of a complaint that stands."""
        same = ("kind", "what", "fire", "units", "happened_on", "sold_from", "sold_until", "reference")
        candle = complaint.lot or complaint.batch
        customer = complaint.customer
        return {name: getattr(complaint, name) for name in same} | {
            "code": candle.code if candle else "",
            "item": complaint.item_id,
            "channel": complaint.channel_id,
            "customer": customer.name if customer else "",
            "reach": customer.reach if customer else "",
        }


class SettleForm(ChangeForm, forms.Form):
    """What was found, what was said to the customer, and what they got."""

    cause = forms.CharField(
        max_length=2000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="What it came of, or that nothing was found.",
    )
    answer = forms.CharField(
        label="What you answered", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    outcome = forms.ChoiceField(
        label="What the customer got",
        required=False,
        choices=[("", "Not decided"), *Complaint.Outcome.choices],
    )
    state = forms.ChoiceField(choices=Complaint.State.choices)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.carry_what_is_shown()


class ComplaintPhotoForm(forms.Form):
    """A photo of what was complained about, and what it shows."""

    photo = ReceivedField(
        picture=True,
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        error_messages=dict.fromkeys(("required", "invalid", "missing"), "Take or choose a photo."),
    )
    text = forms.CharField(label="What it shows", max_length=200, required=False)


class SharedForm(forms.Form):
    """Which complaints are compared, and with what."""

    state = forms.ChoiceField(
        label="Complaints", required=False, choices=[("", "Open and closed"), ("open", "Open ones")]
    )
    kind = forms.ChoiceField(
        label="About", required=False, choices=[("", "Anything"), *Complaint.Kind.choices]
    )
    item = forms.ModelChoiceField(Item.objects.none(), label="Product", required=False, empty_label="Any")
    from_on = DayField(label="Told from", required=False)
    to_on = DayField(label="to", required=False)
    scope = forms.ChoiceField(
        label="Held against",
        required=False,
        choices=[("", "All candles sent"), ("same", "The same products only")],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["item"].queryset = Item.objects.filter(complaints__isnull=False).distinct()  # type: ignore[attr-defined]

    @property
    def days(self) -> tuple[date | None, date | None]:
        """The days between which one was told of them."""
        return self.cleaned_data.get("from_on"), self.cleaned_data.get("to_on")
