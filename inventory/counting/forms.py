"""What people type when the shelf is counted: what to count, what was found, and why it differs."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db.models import Count as Number
from django.db.models.functions import Lower

from inventory.counting.counting import Look
from inventory.lots.forms import find_lot
from inventory.models import Count, CountClass, CountLine, Item, Lot, Reason
from studio.core.percent import entry_percent, format_percent
from studio.core.quantities import Dimension, entry_text, parse_quantity
from studio.web.forms import ChangeModelForm, WhenField, percent_field

NO_PLACE = "No place on record"
NET_LABEL = {Dimension.MASS: "Net", Dimension.COUNT: "How many", Dimension.LENGTH: "How much"}


def parts_of_shelf(rules: Iterable[CountClass]) -> list[Any]:
    """What may be counted, in groups: everything, the places, the classes, the items on the shelf. Two queries."""
    places = Lot.objects.on_shelf().order_by("place").values_list("place").annotate(lots=Number("pk"))
    items = Item.objects.filter(lots__on_hand__gt=0).distinct().order_by(Lower("name"), "pk")
    return [
        ("", "Choose what to count"),
        ("everything", "Everything on the shelf"),
        (
            "Places",
            [
                (f"place:{place}", f"{place or NO_PLACE}, {lots} lot{'' if lots == 1 else 's'}")
                for place, lots in places
            ],
        ),
        ("Classes by yearly value", [(f"class:{rule.letter}", str(rule)) for rule in rules]),
        ("Items", [(f"item:{pk}", name) for pk, name in items.values_list("pk", "name")]),
    ]


class StartForm(forms.Form):
    """Which part of the shelf is counted, and whether the books stay hidden meanwhile."""

    part = forms.ChoiceField(label="What to count")
    blind = forms.BooleanField(
        required=False,
        label="Count blind",
        help_text="Nobody sees what the books hold of a lot until it is counted, on the screen or on the sheet.",
    )
    due = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, parts: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].choices = parts  # type: ignore[attr-defined]

    def chosen(self) -> tuple[Count.Scope, str]:
        """The scope, and the place, letter or key of the item. Only after the form is valid."""
        scope, _, of = self.cleaned_data["part"].partition(":")
        return Count.Scope(scope), of


def _entry(**attrs: str) -> forms.TextInput:
    return forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off", **attrs})


class CountedAtForm(forms.Form):
    """When the lots were looked at."""

    counted_at = WhenField(
        label="When", help_text="Empty means now. From a paper sheet, give the time on it."
    )


class CodeForm(forms.Form):
    """A code scanned or typed."""

    code = forms.CharField(
        label="Scan or type a lot's code",
        max_length=20,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )

    def clean_code(self) -> Lot:
        """The lot it names."""
        return find_lot(self.cleaned_data["code"])


def tare_text(lot: Lot) -> str:
    """What the empty container weighs, as text that reads back exactly, in the unit that writes it shortest."""
    if lot.tare_ug is None:
        return ""
    units = dict.fromkeys((lot.item.unit, "g") if lot.item.dimension is Dimension.MASS else ("g",))
    return min((f"{entry_text(lot.tare_ug, unit)} {unit}" for unit in units), key=len)


class LookForm(forms.Form):
    """What was found of one lot: net, or weighed with its container."""

    net = forms.CharField(max_length=40, required=False, widget=_entry())
    gross = forms.CharField(label="Gross, with container", max_length=40, required=False, widget=_entry())
    tare = forms.CharField(label="Container weighs", max_length=40, required=False, widget=_entry())

    def __init__(self, *args: Any, line: CountLine, **kwargs: Any) -> None:
        self.line, self.lot = line, line.lot
        kwargs.setdefault("prefix", f"lot{self.lot.pk}")
        kwargs.setdefault("initial", {"tare": tare_text(self.lot)})
        super().__init__(*args, **kwargs)
        item = self.lot.item
        self.fields["net"].label = NET_LABEL[item.dimension]
        if item.dimension is not Dimension.MASS:
            del self.fields["gross"], self.fields["tare"]
            self.fields["net"].required = True
        for name, field in self.fields.items():
            field.unit_label = "" if item.dimension is Dimension.COUNT else item.unit  # type: ignore[attr-defined]
            if name == "tare":
                # Somebody else may note another tare meanwhile: what this page showed is what was not typed here.
                field.show_hidden_initial = not self.is_bound or self.add_initial_prefix(name) in self.data
        self.title = f"Lot {self.lot.spaced_code}"

    @property
    def is_filled(self) -> bool:
        """Whether something was typed."""
        return self.has_changed()

    def clean(self) -> dict[str, Any]:
        """The net figure in base units, typed or worked out."""
        data = super().clean() or self.cleaned_data
        net, gross = data.get("net", "").strip(), data.get("gross", "").strip()
        if net and gross:
            self.add_error("gross", "Give the net figure or the gross weight, not both.")
        elif net:
            data["counted"] = self._read("net", net)
        elif gross:
            data["counted"] = self._weighed(data, gross, data.get("tare", "").strip())
        elif not self.errors:
            self.add_error(
                "gross" if "tare" in self.changed_data else "net",
                "Type what is there; 0 where the container is empty.",
            )
        counted = data.get("counted")
        if counted is not None and counted > max(self.lot.item.plausible_limit, self.lot.on_hand):
            text = self.lot.item.quantity(counted)
            self.add_error("net" if net else "gross", f"{text} is not expected. Check the unit.")
        return data

    def _read(self, name: str, text: str) -> int | None:
        item = self.lot.item
        try:
            return parse_quantity(text, item.dimension, unit=item.unit, allow_zero=True)
        except ValueError as error:
            self.add_error(name, str(error))
            return None

    def _weighed(self, data: dict[str, Any], gross: str, tare: str) -> int | None:
        """Gross less tare; nothing where one of them was refused."""
        if not tare:
            self.add_error("tare", "Say what the container weighs empty, or give the net figure.")
            return None
        data["gross_ug"], data["tare_ug"] = self._read("gross", gross), self._read("tare", tare)
        if data["gross_ug"] is None or data["tare_ug"] is None:
            return None
        if data["gross_ug"] < data["tare_ug"]:
            self.add_error(
                "gross",
                "That is less than the container weighs by itself. Check both weights and their units.",
            )
            return None
        net: int = data["gross_ug"] - data["tare_ug"]
        return net

    def look(self, seen: int | None = None) -> Look:
        """What was found. Only after the form is valid."""
        data = self.cleaned_data
        return Look(
            lot_id=self.lot.pk,
            counted=data["counted"],
            typed=data["net"] or data["gross"],
            gross_ug=data.get("gross_ug"),
            tare_ug=data.get("tare_ug"),
            seen=seen,
        )


class DifferenceForm(forms.Form):
    """Why a lot differs."""

    reason = forms.TypedChoiceField(
        required=False, coerce=int, empty_value=None, label="Reason for the difference"
    )
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, line: CountLine, reasons: Mapping[int, Reason], **kwargs: Any) -> None:
        kwargs.setdefault("prefix", f"line{line.pk}")
        kwargs.setdefault("initial", {"reason": line.reason_id, "note": line.note})
        super().__init__(*args, **kwargs)
        self.line, self.reasons = line, reasons
        self.title = f"Lot {line.lot.spaced_code}"
        offered = [
            (pk, each.words) for pk, each in reasons.items() if not each.retired or pk == line.reason_id
        ]
        self.fields["reason"].choices = [("", "Choose a reason"), *offered]  # type: ignore[attr-defined]

    def given(self) -> tuple[Reason | None, str]:
        """The reason and the note. Only after the form is valid."""
        chosen = self.cleaned_data["reason"]
        return self.reasons[chosen] if chosen else None, self.cleaned_data["note"]


class ClassForm(ChangeModelForm):
    """How far a class reaches, how often it is counted, and how far a count of it may be off."""

    class Meta:
        model = CountClass
        fields = ["share_ppm", "times_a_year", "tolerance_ppm"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rule = self.instance
        self.fields["share_ppm"] = percent_field(
            label="Reaches up to", help_text="Share of the value used in a year, the dearest items first."
        )
        self.fields["tolerance_ppm"] = percent_field(
            label="May be off by", help_text="Above that a lot is counted a second time."
        )
        times = self.fields["times_a_year"]
        times.label = "Counted, times a year"
        times.widget = forms.TextInput(attrs={"inputmode": "numeric"})
        times.validators += [MinValueValidator(1), MaxValueValidator(52)]
        self.initial["share_ppm"] = entry_percent(rule.share_ppm)
        self.initial["tolerance_ppm"] = entry_percent(rule.tolerance_ppm)
        if self._is_last():
            del self.fields["share_ppm"]
        self.carry_what_is_shown()

    def _is_last(self) -> bool:
        """Whether it is the class that takes all the rest."""
        return not CountClass.objects.filter(letter__gt=self.instance.letter).exists()

    def clean_share_ppm(self) -> int:
        """Between the class before and the one after."""
        share: int = self.cleaned_data["share_ppm"]
        others = CountClass.objects.exclude(pk=self.instance.pk)
        least = max((rule.share_ppm for rule in others if rule.letter < self.instance.letter), default=0)
        most = min(rule.share_ppm for rule in others if rule.letter > self.instance.letter)
        if not least <= share <= most:
            raise ValidationError(
                f"Give a share from {format_percent(least)} to {format_percent(most)}, so that the classes follow "
                "each other."
            )
        return share

    def clean_tolerance_ppm(self) -> int:
        """At most the whole."""
        tolerance: int = self.cleaned_data["tolerance_ppm"]
        if tolerance > 1_000_000:
            raise ValidationError("Give at most 100 %.")
        return tolerance
