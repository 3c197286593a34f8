"""What people type about burn tests, turned into exact figures or a sentence beside the field."""

from typing import Any

from django import forms

from batches.burn_tests.burning import CYCLES_AT_MOST, JARS_AT_MOST, NOT_STARTED, JarWeight, Observation
from batches.burn_tests.sources import CYCLE_SOURCE, sources
from batches.models import Amount, Batch, BurnJar, BurnLimits, BurnReading, BurnTest, FormulaVersion, WentOut
from studio.core.percent import entry_percent
from studio.core.quantities import Dimension, entry_text
from studio.core.temperatures import entry_temperature
from studio.models import Studio
from studio.web.forms import (
    ChangeModelForm,
    ParsedField,
    ReceivedField,
    WhenField,
    percent_field,
    quantity_field,
    temperature_field,
)
from studio.web.line_forms import lines_of

A_DAY = 24 * 60
# Beyond these a figure is a slip of the unit. Micrometres: no flame and no vessel in a studio is larger.
FLAME_AT_MOST, POOL_AT_MOST = 400_000, 1_000_000


def minutes_field(**kwargs: Any) -> forms.IntegerField:
    """Whole minutes, up to a day."""
    field = forms.IntegerField(
        min_value=1, max_value=A_DAY, widget=forms.TextInput(attrs={"inputmode": "numeric"}), **kwargs
    )
    field.unit_label = "min"  # type: ignore[attr-defined]
    return field


def length_field(**kwargs: Any) -> ParsedField:
    """A length in micrometres, typed in millimetres."""
    return quantity_field(Dimension.LENGTH, unit="mm", required=False, **kwargs)


class StartForm(forms.Form):
    """What is burned, for how long at a time, and what is to be found out."""

    batch = forms.ModelChoiceField(
        Batch.objects.none(),
        required=False,
        empty_label="No batch: made for the test",
        help_text="Where the jars were taken from a run.",
    )
    plan = forms.CharField(
        label="What is tested",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For example the wick's size, a new scent, another vessel.",
    )

    def __init__(self, *args: Any, version: FormulaVersion, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        runs = version.batches.exclude(state__in=NOT_STARTED).order_by("-planned_on", "-pk")
        batch = self.fields["batch"]
        batch.queryset = runs  # type: ignore[attr-defined]
        batch.label_from_instance = lambda run: (  # type: ignore[attr-defined]
            f"{run.spaced_code}, {run.planned_on.day} {run.planned_on:%b %Y}"
        )
        self.fields["cycle_minutes"] = minutes_field(
            label="A cycle lasts", initial=240, help_text=CYCLE_SOURCE
        )
        self.fields["happened_at"] = WhenField(label="Begun")
        self.order_fields(["batch", "cycle_minutes", "plan", "happened_at"])


class BurnJarForm(forms.Form):
    """A jar before it is first lit."""

    def __init__(self, *args: Any, studio: Studio, fill_ug: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        unit = studio.mass_unit
        self.fields["start"] = quantity_field(
            Dimension.MASS, unit=unit, label="Weighs", help_text="Vessel, wick and melt, without a lid."
        )
        self.fields["melt"] = quantity_field(
            Dimension.MASS,
            unit=unit,
            label="Melt in it",
            required=False,
            help_text=f"Empty: not known. Hours expected then go by the fill weight, {entry_text(fill_ug, unit)} {unit}.",
        )

    def clean(self) -> dict[str, Any]:
        """A jar weighs more than what is in it."""
        data = super().clean() or self.cleaned_data
        if data.get("start") and data.get("melt") and data["melt"] > data["start"]:
            self.add_error("start", "It weighs less than the melt in it. Check both figures.")
        return data

    def weighed(self) -> JarWeight:
        """The jar. Only after the form is valid."""
        return JarWeight(self.cleaned_data["start"], self.cleaned_data["melt"])


BurnJars = lines_of(BurnJarForm, JARS_AT_MOST, needed="Weigh at least one jar.")


class CycleForm(forms.Form):
    """Which cycle was read, of what kind, and when it ended."""

    cycle = forms.IntegerField(min_value=1, max_value=CYCLES_AT_MOST, widget=forms.HiddenInput())
    kind = forms.ChoiceField(choices=BurnReading.Kind.choices, required=False, widget=forms.HiddenInput())
    happened_at = WhenField(label="Ended")


NOT_OBSERVED = ("", "Not observed")
CYCLE_FIELDS = (
    "minutes",
    "weight",
    "flame",
    "pool",
    "pool_depth",
    "full_pool_after",
    "mushrooming",
    "soot",
    "vessel",
    "note",
)
END_FIELDS = ("minutes", "weight", "flame", "vessel", "wax_left", "went_out", "soot", "note")


def observed_field(choices: list[tuple[str, str]], **kwargs: Any) -> forms.ChoiceField:
    """A choice that begins as not observed; empty is what that means."""
    return forms.ChoiceField(choices=[NOT_OBSERVED, *choices], required=False, **kwargs)


class SeenForm(forms.Form):
    """What one jar showed in a cycle, or at the end of its life. Nothing is filled in: what stands here was observed.

    Left out when everything is empty.
    """

    note = forms.CharField(max_length=200, required=False)

    def __init__(
        self,
        *args: Any,
        jar: BurnJar,
        test: BurnTest,
        studio: Studio,
        kind: str = BurnReading.Kind.CYCLE,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.jar = jar
        self.title = f"Jar {jar.number}"
        end = kind == BurnReading.Kind.END
        fields = {
            "minutes": minutes_field(
                label="Burned", required=False, help_text=f"Planned: {test.cycle_minutes}."
            ),
            "weight": quantity_field(
                Dimension.MASS, unit=studio.mass_unit, label="Weighs after", required=False
            ),
            "flame": length_field(label="Flame at the bottom" if end else "Flame height"),
            "pool": length_field(label="Pool across"),
            "pool_depth": length_field(label="Pool depth"),
            "full_pool_after": minutes_field(label="Full pool after", required=False),
            "mushrooming": observed_field(Amount.choices, label="Mushrooming"),
            "soot": observed_field(Amount.choices, label="Soot"),
            "vessel": temperature_field(studio.scale, label="Vessel at hottest", required=False),
            "wax_left": length_field(
                label="Wax left", allow_zero=True, help_text="Its depth; 0 when used up."
            ),
            "went_out": observed_field(WentOut.choices, label="How it went out"),
        }
        shown = END_FIELDS if end else CYCLE_FIELDS
        self.fields.update({name: field for name, field in fields.items() if name in shown})
        self.order_fields(shown)

    def clean(self) -> dict[str, Any]:
        """Figures that can be; minutes wherever anything else was entered."""
        data = super().clean() or self.cleaned_data
        minutes = data.get("minutes")
        if minutes is None and "minutes" not in self.errors and self._says_something(data):
            self.add_error("minutes", "Say how long it burned.")
        if minutes and data.get("full_pool_after") and data["full_pool_after"] > minutes:
            self.add_error("full_pool_after", "That is later than the cycle ended.")
        most = {"flame": FLAME_AT_MOST, **dict.fromkeys(("pool", "pool_depth", "wax_left"), POOL_AT_MOST)}
        for name, at_most in most.items():
            if data.get(name) and data[name] > at_most:
                self.add_error(name, "That is not expected. Check the unit; a bare number is in mm.")
        return data

    @staticmethod
    def _says_something(data: dict[str, Any]) -> bool:
        return any(value not in (None, "") for name, value in data.items() if name != "minutes")

    @property
    def is_filled(self) -> bool:
        """Whether the jar burned in this cycle."""
        return self.cleaned_data.get("minutes") is not None

    def seen(self) -> Observation:
        """The reading. Only after the form is valid."""
        data = self.cleaned_data
        return Observation(
            jar_id=self.jar.pk,
            minutes=data["minutes"],
            flame_um=data["flame"],
            pool_um=data.get("pool"),
            pool_depth_um=data.get("pool_depth"),
            full_pool_after=data.get("full_pool_after"),
            mushrooming=data.get("mushrooming", ""),
            soot=data["soot"],
            vessel_mc=data["vessel"],
            weight_ug=data["weight"],
            wax_left_um=data.get("wax_left"),
            went_out=data.get("went_out", ""),
            note=data["note"],
        )


ENDS = (
    (BurnTest.State.PASSED, "Passed"),
    (BurnTest.State.FAILED, "Failed"),
    (BurnTest.State.BROKEN_OFF, "Broken off: nothing can be said"),
)


class DecideForm(forms.Form):
    """How a test ended, and the verdict in words."""

    state = forms.ChoiceField(choices=ENDS, label="The test", widget=forms.RadioSelect)
    verdict = forms.CharField(max_length=300, label="Verdict", help_text="What it showed, in a sentence.")
    accepted_because = forms.CharField(
        max_length=300,
        required=False,
        label="Why it passes all the same",
        help_text="Stays on the formula's version, with what the test lacks. Needed only where it passes.",
    )

    def __init__(self, *args: Any, may_accept: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not may_accept:
            del self.fields["accepted_because"]


# What a passed test covers beside the very same candle; see batches/formulas/covering.py.
COVERS = ("fill_tolerance_ppm", "share_tolerance_ppm")
COVERED = (
    (
        COVERS[0],
        "Fill weight may differ by",
        "Of the fill that was burned. 5 % is common practice, no source. Left empty, it stays as it is.",
    ),
    (
        COVERS[1],
        "Shares may differ by",
        "Each wax, dye and additive, of the share that was burned. Fragrance may never be more. 5 % is common practice, "
        "no source. Left empty, it stays as it is.",
    ),
)


class LimitsForm(ChangeModelForm):
    """What burn tests must stay within from now on. A figure left empty is not judged."""

    class Meta:
        model = BurnLimits
        fields = [
            "flame_um",
            "full_pool_within_minutes",
            "vessel_mc",
            "soot",
            "mushrooming",
            "cycles",
            "weight_asked",
            "photo_asked",
            "wax_left_um",
            "end_flame_um",
            "end_vessel_mc",
            *COVERS,
        ]

    def __init__(self, *args: Any, studio: Studio, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["flame_um"] = length_field(label="Flame at most")
        self.fields["vessel_mc"] = temperature_field(studio.scale, label="Vessel at most", required=False)
        self.fields["full_pool_within_minutes"] = minutes_field(label="Full pool within", required=False)
        self.fields["cycles"] = forms.IntegerField(
            label="Cycles at least",
            min_value=1,
            max_value=CYCLES_AT_MOST,
            widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        )
        self.fields["wax_left_um"] = quantity_field(
            Dimension.LENGTH, unit="mm", allow_zero=True, label="A test ends with wax left of"
        )
        self.fields["end_flame_um"] = length_field(label="Flame at the bottom at most")
        self.fields["end_vessel_mc"] = temperature_field(
            studio.scale, label="Vessel at the end at most", required=False
        )
        for name in ("flame_um", "wax_left_um", "end_flame_um"):
            if (length := getattr(self.instance, name)) is not None:
                self.initial[name] = entry_text(length, "mm")
        for name in ("vessel_mc", "end_vessel_mc"):
            if (heat := getattr(self.instance, name)) is not None:
                self.initial[name] = entry_temperature(heat, studio.scale)
        self._say_where_from()
        self.initial_ppm: dict[str, int] = {}
        for name, label, help_text in COVERED:
            self.fields[name] = percent_field(label=label, required=False, help_text=help_text)
            self.initial_ppm[name] = getattr(self.instance, name)
            self.initial[name] = entry_percent(self.initial_ppm[name])
        self.order_fields(self.Meta.fields)
        self.carry_what_is_shown()

    def _say_where_from(self) -> None:
        """Beside each figure in force where it comes from."""
        for name, source in sources(self.instance).items():
            self.fields[name].help_text = source
        self.fields["wax_left_um"].help_text += " 0: until it is used up."

    def limits(self) -> dict[str, Any]:
        """The columns of a new row of limits. Only after the form is valid."""
        said = {name: self.cleaned_data[name] for name in self.Meta.fields}
        kept = {name: self.initial_ppm[name] for name in COVERS if said[name] is None}
        return said | kept


class BurnPhotoForm(forms.Form):
    """A photo of the burning jars: what it shows, in which cycle, and of which jar."""

    photo = ReceivedField(
        picture=True,
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp", "capture": "environment"}),
        error_messages=dict.fromkeys(("required", "invalid", "missing"), "Take or choose a photo."),
    )
    text = forms.CharField(label="What it shows", max_length=200, required=False)
    cycle = forms.IntegerField(
        min_value=1,
        max_value=CYCLES_AT_MOST,
        required=False,
        label="Of cycle",
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
        help_text="Empty: of none in particular.",
    )
    jar = forms.ModelChoiceField(
        BurnJar.objects.none(), required=False, empty_label="All jars of the cycle", label="Jar"
    )

    def __init__(self, *args: Any, test: BurnTest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        jar = self.fields["jar"]
        jar.queryset = test.jars.all()  # type: ignore[attr-defined]
        jar.label_from_instance = lambda jar: f"Jar {jar.number}"  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        """A jar is shown in a cycle."""
        data = super().clean() or self.cleaned_data
        if data.get("jar") and data.get("cycle") is None and "cycle" not in self.errors:
            self.add_error("cycle", "Say of which cycle it is.")
        return data
