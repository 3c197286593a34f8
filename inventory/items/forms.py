"""What people type about stock, turned into exact figures or a sentence beside the field."""

from collections.abc import Iterable
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator

from inventory.models import COMPONENT_KINDS, DIMENSION_OF, ClosedStock, Item, Kind, Unit
from inventory.models.items import wrong_unit
from studio.core.percent import entry_percent
from studio.core.quantities import Dimension, QuantityError, entry_text, parse_quantity
from studio.core.temperatures import entry_temperature
from studio.models import Role, Studio, User
from studio.web.forms import (
    ChangeModelForm,
    DayField,
    ParsedField,
    percent_field,
    temperature_field,
)


def read_density(text: str) -> int:
    """Grams per millilitre as micrograms per millilitre."""
    amount = parse_quantity(text.replace("g/ml", "").replace("g/mL", ""), Dimension.MASS, unit="g")
    if not 300_000 <= amount <= 3_000_000:
        raise QuantityError("A density lies between 0.3 and 3 g/mL. Check the data sheet, section 9.")
    return amount


# Fields filled from the safety data sheet and the certificate, grouped on the page.
FROM_PAPERS = (
    "density_ug_per_ml",
    "flash_point_mc",
    "maximum_load_ppm",
    "maximum_load_basis",
    "certificate_on",
    "certificate_amendment",
)
LAST = ("notes", "retired")


def _sorted_as(kind: str) -> tuple[bool, bool]:
    """Where an accountant sorts a kind: with finished goods, with components, or with materials."""
    return kind == Kind.FINISHED, kind in COMPONENT_KINDS


class ItemForm(ChangeModelForm):
    """An item kept in stock."""

    certificate_on = DayField(
        label="IFRA certificate dated",
        required=False,
        help_text="A fragrance: the date on its IFRA certificate.",
    )

    class Meta:
        model = Item
        fields = [
            "name",
            "kind",
            "made_here",
            "unit",
            "place",
            "shelf_life_days",
            "density_ug_per_ml",
            "flash_point_mc",
            "maximum_load_ppm",
            "maximum_load_basis",
            "certificate_on",
            "certificate_amendment",
            "expected_at_most",
            "notes",
            "retired",
        ]
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def __init__(self, *args: Any, studio: Studio, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        item = self.instance
        self.by = by
        self.fields["density_ug_per_ml"] = ParsedField(
            read_density,
            required=False,
            label="Density",
            unit_label="g/mL",
            help_text="Safety data sheet, section 9: density or relative density.",
        )
        self.fields["flash_point_mc"] = temperature_field(
            studio.scale,
            required=False,
            label="Flash point",
            help_text="Safety data sheet, section 9: flash point.",
        )
        self.fields["maximum_load_ppm"] = percent_field(
            required=False,
            label="Maximum load",
            help_text="A wax: the fragrance it holds, from its maker's sheet. A fragrance: the figure for category 12, "
            "candles, of its IFRA certificate.",
        )
        self.fields["maximum_load_basis"].label = "Maximum is a share"
        self.fields["maximum_load_basis"].required = False
        self.fields[
            "certificate_amendment"
        ].help_text = "The number of the amendment it names, for example 51."
        self.fields["expected_at_most"] = forms.CharField(
            required=False,
            max_length=40,
            label="Largest delivery expected",
            help_text="A larger quantity is asked about, so that a slip of the unit is caught. For example 20 kg.",
        )
        # A century; beyond it a slip of the finger would reach past the end of the calendar.
        self.fields["shelf_life_days"].validators.append(MaxValueValidator(36_500))
        self.fields["shelf_life_days"].help_text = "In days from arrival or making, where no date is given."
        if not item.pk:
            del self.fields["retired"]
            self.initial.setdefault("unit", studio.mass_unit)
            return
        if item.density_ug_per_ml:
            self.initial["density_ug_per_ml"] = entry_text(item.density_ug_per_ml, "g")
        if item.flash_point_mc is not None:
            self.initial["flash_point_mc"] = entry_temperature(item.flash_point_mc, studio.scale)
        if item.maximum_load_ppm is not None:
            self.initial["maximum_load_ppm"] = entry_percent(item.maximum_load_ppm)
        if item.expected_at_most is not None:
            self.initial["expected_at_most"] = f"{entry_text(item.expected_at_most, item.unit)} {item.unit}"
        self.carry_what_is_shown()

    def clean(self) -> dict[str, Any]:
        """What depends on more than one field."""
        data = super().clean() or self.cleaned_data
        unit = data.get("unit")
        if unit and data.get("expected_at_most"):
            try:
                data["expected_at_most"] = parse_quantity(
                    data["expected_at_most"], DIMENSION_OF[Unit(unit)], unit=unit
                )
            except QuantityError as error:
                self.add_error("expected_at_most", str(error))
        elif "expected_at_most" in data:
            data["expected_at_most"] = None
        self._check_unit(data)
        self._check_closed(data)
        if self.instance.pk and self.by.role != Role.OWNER:
            self._check_limits(data)
        if data.get("maximum_load_ppm") is not None and not data.get("maximum_load_basis"):
            self.add_error("maximum_load_basis", "Say whether the maximum is of wax or of melt; they differ.")
        if data.get("made_here") and data.get("kind") == Kind.FINISHED:
            self.add_error(
                "made_here", "A finished good is always made here; this is for blends used in other batches."
            )
        return data

    def groups(self) -> tuple[list[forms.BoundField], list[forms.BoundField], list[forms.BoundField]]:
        """The fields as the page sets them: what it is, what its papers say, and the rest."""
        papers = [self[name] for name in FROM_PAPERS]
        rest = [self[name] for name in LAST if name in self.fields]
        return [self[name] for name in self.fields if name not in {*FROM_PAPERS, *LAST}], papers, rest

    def _check_closed(self, data: dict[str, Any]) -> None:
        """What stood in the books when they were closed is not sorted otherwise afterwards."""
        if not data.get("kind") or not ClosedStock.objects.filter(item=self.instance.pk).exists():
            return
        before = Item.objects.get(pk=self.instance.pk)
        if before.made_here is not data["made_here"]:
            self.add_error("made_here", "The books were closed while it stood there so; this stays as it is.")
        elif _sorted_as(before.kind) != _sorted_as(data["kind"]):
            self.add_error(
                "kind", "The books were closed while it stood there as what it is; add a new item."
            )

    def _check_limits(self, data: dict[str, Any]) -> None:
        """Pots and releases are held against the figures on record: a maker enters and tightens them, the owner loosens."""
        before: Item = self.instance
        for field, named in (("maximum_load_ppm", "maximum load"), ("flash_point_mc", "flash point")):
            stated, now = getattr(before, field), data.get(field)
            if field not in self.changed_data or field in self.errors or stated is None:
                continue
            if now is None or now > stated:
                self.add_error(
                    field,
                    f"Only the owner raises or removes a {named} on record. Enter a lower figure, or ask the owner.",
                )
        has_maximum = before.maximum_load_ppm is not None
        if has_maximum and "maximum_load_basis" in self.changed_data and data.get("maximum_load_basis"):
            self.add_error(
                "maximum_load_basis",
                "Only the owner changes what a maximum on record is a share of. Ask the owner.",
            )
        # A fragrance that became an additive would be looked at by nobody.
        if "kind" in self.changed_data and (has_maximum or before.flash_point_mc is not None):
            self.add_error(
                "kind",
                "Only the owner changes the kind of an item with a maximum load or flash point on record. Ask the owner.",
            )

    def _check_unit(self, data: dict[str, Any]) -> None:
        unit, kind = data.get("unit"), data.get("kind")
        if not unit or not kind:
            return
        dimension = DIMENSION_OF[Unit(unit)]
        if wrong := wrong_unit(kind, dimension):
            self.add_error("unit", wrong)
        elif self.instance.pk:
            before = Item.objects.get(pk=self.instance.pk)
            if before.dimension is not dimension and (before.lots.exists() or before.formula_lines.exists()):
                self.add_error(
                    "unit",
                    f"Its lots or formulas are kept by {before.dimension.value}; that cannot change any more.",
                )


def choices_of(rows: Iterable[Any], empty: str) -> list[tuple[Any, str]]:
    """Rows already read as the choices of a list, so that a page of many lines asks for them once."""
    return [("", empty), *((row.pk, str(row)) for row in rows)]
