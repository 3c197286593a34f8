"""What people type when a run ends: what came out, in parts or at once, or that it was given up; and the defects."""

from typing import Any

from django import forms
from django.utils.functional import cached_property

from batches.finishing import Recovered, Result
from batches.models import Batch, Defect, Outcome
from inventory.models import Item
from studio.forms import ChangeModelForm, ReasonForm, WhenField
from studio.quantities import Dimension, QuantityError, parse_quantity

SCRAP_SHOWN = 2
SCRAP_ROWS = 8
ALL, PART = "all", "part"


def _figure(label: str, unit: str, **kwargs: Any) -> forms.CharField:
    """A field for an amount that may be left empty, its unit beside it."""
    field = forms.CharField(
        label=label,
        max_length=40,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        **kwargs,
    )
    field.unit_label = unit  # type: ignore[attr-defined]
    return field


class WithMelt(forms.Form):
    """Melt that goes back on the shelf: an item made here by weight, and how much of it."""

    batch: Batch

    def add_melt_fields(self, unit: str) -> None:
        """The choice of what it becomes, and its weight; a bare number is in `unit`."""
        self.melt_unit = unit
        self.fields["melt_item"] = forms.ModelChoiceField(
            self.made_by_weight,
            label="Melt recovered, kept as",
            required=False,
            empty_label="No melt was recovered",
            help_text="An item that is made here by weight.",
        )
        self.fields["melt_amount"] = _figure("Its weight", unit)

    @cached_property
    def made_by_weight(self) -> Any:
        """What recovered melt may become: everything made here by weight, except what the batch makes."""
        items = Item.objects.current().filter(made_here=True, unit__in=("g", "kg", "oz", "lb"))
        return items.exclude(pk=self.batch.item.pk)

    def clean_melt(self, data: dict[str, Any]) -> list[Recovered]:
        """The melt recovered, or none. Both fields are filled or neither."""
        item, text = data.get("melt_item"), (data.get("melt_amount") or "").strip()
        if not text:
            if item:
                self.add_error("melt_amount", f"Weigh the {item} that was recovered.")
            return []
        try:
            amount = parse_quantity(text, Dimension.MASS, unit=self.melt_unit)
        except QuantityError as error:
            self.add_error("melt_amount", str(error))
            return []
        if item is None:
            if "melt_item" not in self.errors:
                self.add_error("melt_item", "Choose what the recovered melt is kept as.")
            return []
        if amount > item.plausible_limit:
            self.add_error("melt_amount", f"{item.quantity(amount)} is not expected at once. Check the unit.")
        return [Recovered(item, amount)]


class FinishForm(WithMelt):
    """What came out. `earlier` is what came out in parts before, in base units of the product."""

    last = forms.ChoiceField(
        label="Is this all of it?",
        choices=[(ALL, "This was all of it"), (PART, "More will follow")],
        initial=ALL,
        required=False,
        widget=forms.RadioSelect,
    )
    happened_at = WhenField(label="Finished")
    without = forms.BooleanField(required=False, label="Yes, none was used")
    sure = forms.BooleanField(required=False, label="Yes, this many came out")

    def __init__(self, *args: Any, batch: Batch, melt_unit: str, earlier: int = 0, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch, self.earlier = batch, earlier
        self.item = batch.item
        self.nothing_drawn = self.many = False
        unit = "" if self.item.dimension is Dimension.COUNT else self.item.unit
        self.fields["good"] = _figure("Good", unit)
        self.fields["seconds"] = _figure("Seconds", unit, help_text="Sound, but not first quality.")
        if batch.version.fill_ug is not None:
            self.fields["rework"] = _figure(
                "To be melted again", unit, help_text="Vessels that are emptied and poured anew."
            )
        self.fields["retained"] = _figure(
            "Samples kept", unit, help_text="How many of the good ones stay here for comparing later."
        )
        self._add_scrap_fields(unit)
        self.add_melt_fields(melt_unit)

    def _add_scrap_fields(self, unit: str) -> None:
        offered = Defect.objects.filter(retired=False).values_list("words", flat=True)
        choices = [("", "Choose a defect"), *((words, words) for words in offered)]
        for row in range(1, SCRAP_ROWS + 1):
            self.fields[f"scrap_{row}"] = _figure("Scrap", unit)
            self.fields[f"defect_{row}"] = forms.ChoiceField(
                label="because of", required=False, choices=choices
            )

    def _rows(self, first: int, last: int) -> list[tuple[Any, Any]]:
        return [(self[f"scrap_{row}"], self[f"defect_{row}"]) for row in range(first, last + 1)]

    def scrap_rows(self) -> list[tuple[Any, Any]]:
        """The pairs of scrap and defect that are shown, as bound fields."""
        return self._rows(1, SCRAP_SHOWN)

    def more_scrap_rows(self) -> list[tuple[Any, Any]]:
        """The pairs that are folded away."""
        return self._rows(SCRAP_SHOWN + 1, SCRAP_ROWS)

    def unfolded(self) -> bool:
        """Whether one of those is filled."""
        return any(field.data for row in self.more_scrap_rows() for field in row)

    def _amount(self, name: str) -> int:
        text = (self.cleaned_data.get(name) or "").strip()
        if not text:
            return 0
        try:
            return parse_quantity(text, self.item.dimension, unit=self.item.unit, allow_zero=True)
        except QuantityError as error:
            self.add_error(name, str(error))
            return 0

    def clean(self) -> dict[str, Any]:
        """What came out, understood as `result`; whether it is the last of it; and no more than is believable."""
        data = super().clean() or self.cleaned_data
        result = Result(
            good=self._amount("good"),
            seconds=self._amount("seconds"),
            scrap=self._scrap(data),
            rework=self._amount("rework"),
            retained=self._amount("retained"),
            recovered=self.clean_melt(data),
        )
        data["result"], data["is_last"] = result, data.get("last") != PART
        if not self.errors and not result.total and not result.recovered:
            self.add_error("good", "Say how many came out. If none was good, enter the scrap below.")
        if result.retained > result.good and "retained" not in self.errors:
            self.add_error("retained", "Samples are kept of the good ones; there are not as many.")
        self._check_believable(result.total + self.earlier, data)
        return data

    def _scrap(self, data: dict[str, Any]) -> dict[str, int]:
        """Scrap by defect; each amount has one."""
        scrap: dict[str, int] = {}
        for row in range(1, SCRAP_ROWS + 1):
            amount, defect = self._amount(f"scrap_{row}"), data.get(f"defect_{row}")
            if amount and not defect:
                self.add_error(f"defect_{row}", "Say what was wrong with it.")
            if defect and not amount and f"scrap_{row}" not in self.errors:
                self.add_error(f"scrap_{row}", f"Say how much was scrapped because of: {defect}.")
            if amount and defect:
                scrap[defect] = scrap.get(defect, 0) + amount
        return scrap

    def _check_believable(self, total: int, data: dict[str, Any]) -> None:
        planned = self.batch.quantity
        if total > planned * 3 // 2 + 2 and not data.get("sure"):
            self.many = True
            self.add_error(
                "good",
                f"{self.item.quantity(total)} came out of a run planned for {self.item.quantity(planned)}. "
                "Check the figures, or tick that it is right.",
            )


class GiveUpForm(WithMelt, ReasonForm):
    """Why a run is given up, when, and what of the melt was recovered."""

    happened_at = WhenField()

    def __init__(self, *args: Any, batch: Batch, melt_unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        self.add_melt_fields(melt_unit)
        self.order_fields(["reason", "melt_item", "melt_amount", "happened_at"])

    def clean(self) -> dict[str, Any]:
        """With the melt recovered as `recovered`."""
        data = super().clean() or self.cleaned_data
        data["recovered"] = self.clean_melt(data)
        return data


class DefectForm(ChangeModelForm):
    """A defect on the studio's list. Once it stands on a yield its words stay."""

    class Meta:
        model = Defect
        fields = ["words", "retired"]
        labels = {"words": "Defect"}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.instance.pk:
            del self.fields["retired"]
            return
        if Outcome.objects.filter(defect=self.instance.words).exists():
            self.fields["words"].disabled = True
            self.fields[
                "words"
            ].help_text = "It stands on what was recorded, so its words stay. Retire it and add another."
        self.carry_what_is_shown()

    def clean_words(self) -> str:
        """The words with single spaces, so that one defect does not stand on the list twice."""
        return " ".join(self.cleaned_data["words"].split())
