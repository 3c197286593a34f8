"""What people type when a run ends: what came out, in parts or at once, or that it was given up; and the defects."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.functional import cached_property

from batches.models import Batch, Defect, Flaw, Labour, Outcome
from batches.production.finishing import MORE_THAN_MELT_PPM, Recovered, Result
from batches.production.left_over import Answer, SetOut, left
from batches.production.scents import another_scent
from inventory.ledger.forms import HappenedField
from inventory.models import Item
from studio.core.percent import WHOLE
from studio.core.quantities import Dimension, QuantityError, format_quantity, parse_quantity
from studio.models import User
from studio.web.forms import ChangeModelForm, ReasonForm

SCRAP_SHOWN = 2
SCRAP_ROWS = 8
FLAW_ROWS = 4
DEFECT_OF = {"scrap": "defect_{}", "flawed": "flaw_{}"}
SUCH = {"scrap": "was scrapped", "flawed": "is of second quality"}
# What the rows for time worked are filled in with; only those with minutes count.
WORKED = (Labour.Step.WEIGH, Labour.Step.POUR, Labour.Step.FINISH)
MINUTES_OF_A_DAY = 60 * 24
ALL, PART = "all", "part"
LEFT = "left_{}_{}_{}"


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


def _any_filled(rows: list[tuple[Any, Any]]) -> bool:
    return any(field.data for row in rows for field in row)


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
        self.fields["mix_scents"] = forms.BooleanField(required=False, label="Yes, keep them together")
        self.asks_scents = False

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
        self.ask_of_scents("melt_item", item, data)
        return [Recovered(item, amount)]

    def ask_of_scents(self, field: str, item: Item, data: dict[str, Any]) -> None:
        """Ask, once, whether melt is kept as an item that holds another scent, or none."""
        if data.get("mix_scents"):
            return
        if said := another_scent(self.batch, item):
            self.asks_scents = True
            self.add_error(field, f"{said} Choose another item, or tick that it is right.")


class FinishForm(WithMelt):
    """What came out. `earlier` is what came out in parts before, in base units of the product; `person` fills it in."""

    # Two buttons, so that neither stands preselected.
    last = forms.ChoiceField(
        label="Was this all of it?",
        choices=[
            (ALL, "Put it on the shelf, that was all"),
            (PART, "Put this part on the shelf, more will follow"),
        ],
        error_messages={"required": "Press one of the two buttons: was this all, or will more follow?"},
    )
    happened_at = HappenedField(label="Finished")
    without = forms.BooleanField(required=False, label="Yes, none was used")
    sure = forms.BooleanField(required=False, label="Yes, this many came out")
    seen = forms.IntegerField(required=False, min_value=0, max_value=2**63 - 1, widget=forms.HiddenInput)
    as_well = forms.BooleanField(required=False, label="Yes, this came out beside it")
    left_unknown = forms.BooleanField(required=False, label="Nobody knows what became of the parts left over")
    left_reason = forms.CharField(
        label="Why they are scrapped",
        max_length=200,
        required=False,
        help_text="Needed where parts are scrapped.",
    )

    def __init__(
        self,
        *args: Any,
        batch: Batch,
        melt_unit: str,
        person: User,
        earlier: int = 0,
        melt_ug: int = 0,
        recovered_ug: int = 0,
        parts: Sequence[SetOut] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.batch, self.earlier, self.parts = batch, earlier, parts
        self.melt_ug, self.recovered_ug = melt_ug, recovered_ug
        self.item = batch.item
        self.nothing_drawn = self.many = self.meanwhile = self.left_asked = False
        unit = "" if self.item.dimension is Dimension.COUNT else self.item.unit
        self.fields["good"] = _figure("Good", unit)
        self.fields["seconds"] = _figure("Seconds", unit, help_text="Sound, but not first quality.")
        if batch.version.fill_ug is not None:
            self.fields["rework"] = _figure(
                "To be melted again", unit, help_text="Vessels that are emptied and poured anew."
            )
            self._add_remelt_fields(melt_unit)
        self.fields["retained"] = _figure(
            "Samples kept", unit, help_text="How many of the good ones stay here for comparing later."
        )
        self._add_defect_fields(unit)
        self.add_melt_fields(melt_unit)
        self._add_labour_fields(person)
        for part in parts:
            self.fields[LEFT.format("back", *part.key)] = _figure("Back to the shelf", "")
            self.fields[LEFT.format("scrap", *part.key)] = _figure("Scrapped", "")

    def _add_remelt_fields(self, unit: str) -> None:
        """What the melt of units to remelt is kept as, and its weight where it was weighed."""
        self.fields["remelt_item"] = forms.ModelChoiceField(
            self.made_by_weight,
            label="Their melt is kept as",
            required=False,
            empty_label="Choose an item",
            help_text="An item that is made here by weight. It waits under Remelt until it is poured.",
        )
        self.fields["remelt_amount"] = _figure(
            "Weight of that melt",
            unit,
            help_text="Leave empty where it was not weighed: their fill weight counts, and the record says so.",
        )

    def _remelt(self, rework: int, data: dict[str, Any]) -> list[Recovered]:
        """The melt in the units to remelt: weighed, else by their fill weight."""
        item, text = data.get("remelt_item"), (data.get("remelt_amount") or "").strip()
        if not rework:
            if (item or text) and "rework" not in self.errors:
                self.add_error("rework", "Say how many units are to be melted again.")
            return []
        if item is None:
            if "remelt_item" not in self.errors:
                self.add_error("remelt_item", "Choose what the melt of these units is kept as.")
            return []
        amount = rework * (self.batch.version.fill_ug or 0)
        if text:
            try:
                amount = parse_quantity(text, Dimension.MASS, unit=self.melt_unit)
            except QuantityError as error:
                self.add_error("remelt_amount", str(error))
                return []
            if amount > 2 * rework * (self.batch.version.fill_ug or 0):
                self.add_error(
                    "remelt_amount",
                    f"{item.quantity(amount)} is more than twice what they were filled with. Check it.",
                )
        if not self.asks_scents:
            self.ask_of_scents("remelt_item", item, data)
        return [Recovered(item, amount, of_remelt=True, weighed=bool(text))]

    def _add_defect_fields(self, unit: str) -> None:
        """Rows of how much and what was wrong with it, for scrap and for seconds."""
        offered = Defect.objects.filter(retired=False).values_list("words", flat=True)
        choices = [("", "Choose a defect"), *((words, words) for words in offered)]
        for kind, label, rows in (("scrap", "Scrap", SCRAP_ROWS), ("flawed", "Of the seconds", FLAW_ROWS)):
            for row in range(1, rows + 1):
                self.fields[f"{kind}_{row}"] = _figure(label, unit)
                self.fields[DEFECT_OF[kind].format(row)] = forms.ChoiceField(
                    label="because of", required=False, choices=choices
                )

    def _add_labour_fields(self, person: User) -> None:
        people = User.objects.filter(is_active=True)
        for row, step in enumerate(WORKED, 1):
            self.fields[f"minutes_{row}"] = forms.IntegerField(
                label="Minutes",
                required=False,
                min_value=1,
                max_value=MINUTES_OF_A_DAY,
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            )
            self.fields[f"step_{row}"] = forms.ChoiceField(
                label="at what", required=False, choices=Labour.Step.choices, initial=step
            )
            self.fields[f"person_{row}"] = forms.ModelChoiceField(
                people, label="who", required=False, empty_label=None, initial=person.pk
            )

    def labour_rows(self) -> list[tuple[Any, Any, Any]]:
        """Minutes, at what, and who, as bound fields."""
        return [
            (self[f"minutes_{row}"], self[f"step_{row}"], self[f"person_{row}"])
            for row in range(1, len(WORKED) + 1)
        ]

    def _worked(self, data: dict[str, Any]) -> list[tuple[User, str, int]]:
        """Who worked at what for how many minutes; a row without minutes says nothing."""
        found = []
        for row in range(1, len(WORKED) + 1):
            minutes, step, person = (data.get(f"{name}_{row}") for name in ("minutes", "step", "person"))
            if not minutes:
                continue
            if not step and f"step_{row}" not in self.errors:
                self.add_error(f"step_{row}", "Say what the time was spent on.")
            if not person and f"person_{row}" not in self.errors:
                self.add_error(f"person_{row}", "Say who worked.")
            if step and person:
                found.append((person, step, minutes))
        return found

    def _rows(self, kind: str, first: int, last: int) -> list[tuple[Any, Any]]:
        return [(self[f"{kind}_{row}"], self[DEFECT_OF[kind].format(row)]) for row in range(first, last + 1)]

    def scrap_rows(self) -> list[tuple[Any, Any]]:
        """The pairs of scrap and defect that are shown, as bound fields."""
        return self._rows("scrap", 1, SCRAP_SHOWN)

    def more_scrap_rows(self) -> list[tuple[Any, Any]]:
        """The pairs that are folded away."""
        return self._rows("scrap", SCRAP_SHOWN + 1, SCRAP_ROWS)

    def flaw_rows(self) -> list[tuple[Any, Any]]:
        """The pairs for seconds, folded away too."""
        return self._rows("flawed", 1, FLAW_ROWS)

    def unfolded(self) -> bool:
        """Whether one of the pairs of scrap that are folded away is filled."""
        return _any_filled(self.more_scrap_rows())

    def flaws_unfolded(self) -> bool:
        """Whether one of the pairs for seconds is filled."""
        return _any_filled(self.flaw_rows())

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
            scrap=self._by_defect("scrap", SCRAP_ROWS, data),
            flawed=self._by_defect("flawed", FLAW_ROWS, data),
            rework=self._amount("rework"),
            retained=self._amount("retained"),
            recovered=[*self.clean_melt(data), *self._remelt(self._amount("rework"), data)],
        )
        data["result"], data["is_last"] = result, data.get("last") == ALL
        data["worked"] = self._worked(data)
        if not self.errors and not result.total and not result.recovered:
            self.add_error("good", "Say how many came out. If none was good, enter the scrap below.")
        if result.retained > result.good and "retained" not in self.errors:
            self.add_error("retained", "Samples are kept of the good ones; there are not as many.")
        if sum(result.flawed.values()) > result.seconds and "seconds" not in self.errors:
            self.add_error("seconds", "Defects are given for more than these. Check the figures.")
        self._check_believable(result, data)
        data["left"] = self._left_over(result.total + self.earlier, data) if data["is_last"] else []
        return data

    def left_rows(self) -> list[tuple[SetOut, Any, Any]]:
        """Each counted part that was set out, with its two fields."""
        back, scrap = LEFT.format("back", "{}", "{}"), LEFT.format("scrap", "{}", "{}")
        return [(part, self[back.format(*part.key)], self[scrap.format(*part.key)]) for part in self.parts]

    def _left_over(self, made: int, data: dict[str, Any]) -> list[Answer]:
        """What becomes of counted parts that no unit used: all of them are told, or that nobody knows."""
        answers = []
        told: dict[int, int] = {}
        for part in self.parts:
            back, scrapped = (self._count(LEFT.format(what, *part.key)) for what in ("back", "scrap"))
            if back + scrapped > part.drawn:
                self.add_error(LEFT.format("back", *part.key), f"Only {part.drawn} of this lot were set out.")
            answers.append(Answer(*part.key, back, scrapped))
            told[part.line.pk] = told.get(part.line.pk, 0) + back + scrapped
            if scrapped and not data.get("left_reason") and "left_reason" not in self.errors:
                self.add_error("left_reason", "Say why they are scrapped.")
        # Asked last: only right figures say how many are left.
        if made and not self.errors:
            self._check_told(made, told, data)
        return answers

    def _check_told(self, made: int, told: Mapping[int, int], data: dict[str, Any]) -> None:
        """Each line's parts left over are told to the last one, or that nobody knows of the rest."""
        over = left(self.parts, made)
        first = {part.line.pk: part for part in reversed(self.parts)}
        for line_id, part in first.items():
            rest, said = over.get(line_id, 0), told[line_id]
            if said == rest or (said < rest and data.get("left_unknown")):
                continue
            self.left_asked = True
            drawn = sum(each.drawn for each in self.parts if each.line.pk == line_id)
            used = part.line.amount * made
            self.add_error(
                LEFT.format("back", *part.key),
                f"{drawn} {part.line.item} were set out and {made} units use {used}"
                + (f", so {rest} are left over. " if rest else ", so none is left over. ")
                + (f"{said} are told. " if said else "")
                + "Say how many go back to the shelf and how many are scrapped"
                + (", or tick below that nobody knows." if said < rest else "."),
            )

    def _count(self, name: str) -> int:
        """A whole number of parts, or none."""
        text = (self.cleaned_data.get(name) or "").strip()
        try:
            return parse_quantity(text, Dimension.COUNT, unit="each", allow_zero=True) if text else 0
        except QuantityError as error:
            self.add_error(name, str(error))
            return 0

    def _by_defect(self, kind: str, rows: int, data: dict[str, Any]) -> dict[str, int]:
        """How much of each defect; each amount has one."""
        found: dict[str, int] = {}
        for row in range(1, rows + 1):
            name, of = f"{kind}_{row}", DEFECT_OF[kind].format(row)
            amount, defect = self._amount(name), data.get(of)
            if amount and not defect:
                self.add_error(of, "Say what was wrong with it.")
            if defect and not amount and name not in self.errors:
                self.add_error(name, f"Say how much {SUCH[kind]} because of: {defect}.")
            if amount and defect:
                found[defect] = found.get(defect, 0) + amount
        return found

    def _check_believable(self, result: Result, data: dict[str, Any]) -> None:
        """Ask where more came out than the melt weighed in can fill, or than was planned by far."""
        total, planned, words = result.total + self.earlier, self.batch.quantity, ""
        fill = self.batch.version.fill_ug or 1
        # The melt of units to remelt is counted in the units.
        from_pot = sum(each.quantity for each in result.recovered if not each.of_remelt)
        melt = total * fill + self.recovered_ug + from_pot
        if self.melt_ug and melt * WHOLE > self.melt_ug * (WHOLE + MORE_THAN_MELT_PPM):
            words = self._more_than_melt(total, melt)
        elif total > planned * 3 // 2 + 2:
            words = (
                f"{self.item.quantity(total)} came out of a run planned for {self.item.quantity(planned)}. "
                "Check the figures, or tick that it is right."
            )
        if words and not data.get("sure"):
            self.many = True
            self.add_error("good", words)

    def _more_than_melt(self, total: int, melt: int) -> str:
        """That so much cannot have come of what was weighed in, with both figures."""
        drawn = format_quantity(self.melt_ug, self.melt_unit)
        wanted = format_quantity(melt, self.melt_unit)
        before = f", {self.item.quantity(self.earlier)} of them before," if self.earlier else ""
        return (
            f"{self.item.quantity(total)}{before} hold {wanted} of melt, and {drawn} were weighed in. Check the figures, "
            "record the melt that is missing, or tick that it is right."
        )


class GiveUpForm(WithMelt, ReasonForm):
    """Why a run is given up, when, and what of the melt was recovered."""

    happened_at = HappenedField()

    def __init__(self, *args: Any, batch: Batch, melt_unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.batch = batch
        self.add_melt_fields(melt_unit)
        self.order_fields(["reason", "melt_item", "melt_amount", "mix_scents", "happened_at"])

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
        words = self.instance.words
        flaws = Flaw.objects.filter(defect=words).values("pk")
        if Outcome.objects.filter(defect=words).values("pk").union(flaws, all=True).exists():
            self.fields["words"].disabled = True
            self.fields[
                "words"
            ].help_text = "It stands on what was recorded, so its words stay. Retire it and add another."
        self.carry_what_is_shown()

    def clean_words(self) -> str:
        """The words with single spaces, so that one defect does not stand on the list twice."""
        return " ".join(self.cleaned_data["words"].split())
