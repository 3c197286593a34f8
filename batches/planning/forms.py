"""What people type when they plan: where to begin, how many, when, and which lots in place of the suggestion."""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from batches.lineage.recall_scope import Width, widths
from batches.models import Batch, FormulaVersion
from batches.planning.planning import Need
from batches.planning.starting import version_for
from inventory.lots.forms import find_lot, read_amount
from inventory.models import CustomerOrderLine, Item, Lot
from inventory.sales_orders.order_standing import OrderLineStatus
from studio.core.quantities import Dimension, QuantityError, entry_text, parse_quantity
from studio.web.forms import ChangeForm, DayField

STARTS = {
    "units": "How many",
    "order": "A customer's order",
    "lot": "A lot to use up",
    "most": "All the shelf allows",
}
LOTS_AT_MOST = 24  # of one line on the page; beyond that the first to expire are shown


class PlanForm(forms.Form):
    """What to make, how many and when."""

    formula = forms.ModelChoiceField(FormulaVersion.objects.none(), empty_label="Choose a formula")
    quantity = forms.CharField(
        label="How many",
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        help_text="Units, or the weight of a blend with its unit.",
    )
    planned_on = DayField(label="On")
    note = forms.CharField(max_length=300, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        versions = FormulaVersion.objects.filter(formula__retired=False).exclude(
            state=FormulaVersion.State.RETIRED
        )
        versions = versions.select_related("formula__item").order_by("formula__name", "-number")
        self.fields["formula"].queryset = versions  # type: ignore[attr-defined]
        self.fields["formula"].label_from_instance = (  # type: ignore[attr-defined]
            lambda version: (
                f"{version.formula}, version {version.number} ({version.get_state_display().lower()})"
            )
        )

    def clean(self) -> dict[str, Any]:
        """The quantity in base units of what the formula makes."""
        data = super().clean() or self.cleaned_data
        version, text = data.get("formula"), data.get("quantity")
        if version and text:
            item = version.formula.item
            try:
                amount = parse_quantity(text, item.dimension)
            except QuantityError as error:
                self.add_error("quantity", str(error))
            else:
                data["understood"] = amount
                if amount > item.plausible_limit:
                    self.add_error(
                        "quantity",
                        f"{item.quantity(amount)} is more than is expected at once "
                        f"({item.quantity(item.plausible_limit)}). Check the figure, "
                        "or raise the limit on the item's page.",
                    )
        return data


class StartForm(PlanForm):
    """A plan that begins with a number, an order's line, a lot to use up, or the shelf.

    But for the first the number may be left out; it is worked out then.
    """

    field_order = ("line", "lot", "formula", "quantity", "planned_on", "note")

    def __init__(
        self,
        *args: Any,
        start: str,
        lines: Sequence[OrderLineStatus] = (),
        lot: Lot | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.start = start
        quantity = self.fields["quantity"]
        if start != "units":
            quantity.required = False
            quantity.help_text = "Leave empty to have it worked out."
        if start == "order":
            self.fields["line"] = forms.ChoiceField(label="Order", choices=_line_choices(lines))
            self.fields["formula"].required = False
            self.fields["formula"].help_text = "Leave empty for the version poured now."
        if start == "lot":
            self.fields["lot"] = forms.CharField(
                label="Lot",
                max_length=20,
                widget=forms.TextInput(
                    attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
                ),
            )
            if lot:
                versions = self.fields["formula"].queryset  # type: ignore[attr-defined]
                of_item = versions.filter(lines__item=lot.item_id).distinct()
                self.fields["formula"].queryset = of_item  # type: ignore[attr-defined]
        self.order_fields(self.field_order)

    def clean_lot(self) -> Lot:
        """The lot the code names."""
        return find_lot(self.cleaned_data["lot"])

    def clean(self) -> dict[str, Any]:
        """The order's line as a row, and the version poured now where none is chosen."""
        line_id = self.cleaned_data.get("line")
        if line_id:
            line = CustomerOrderLine.objects.select_related("item", "order__customer").get(pk=int(line_id))
            self.cleaned_data["order_line"] = line
            self._choose_version(line)
        return super().clean()

    def _choose_version(self, line: CustomerOrderLine) -> None:
        version = self.cleaned_data.get("formula")
        if version is None and "formula" not in self.errors:
            version = version_for(line.item)
            self.cleaned_data["formula"] = version
            if version is None:
                self.add_error("line", f"No formula of {line.item} can be planned from. Write one first.")
        elif version and version.formula.item_id != line.item_id:
            self.add_error("formula", f"This makes {version.formula.item}; the order wants {line.item}.")


def _line_choices(lines: Iterable[OrderLineStatus]) -> list[tuple[str, str]]:
    found = [("", "Choose what is wanted")]
    for each in lines:
        order = each.line.order
        to_pour = f"{each.to_pour} to pour" if each.to_pour else "nothing to pour"
        day = f"{order.wanted_on.day} {order.wanted_on:%b}"
        words = f"{order.customer.known_name}: {each.left} × {each.item} by {day}, {to_pour} ({order.spaced_code})"
        found.append((str(each.line.pk), words))
    return found


def take_name(line_id: int, lot_id: int) -> str:
    """The name of the field for one lot of one line."""
    return f"take-{line_id}-{lot_id}"


class ChosenForm(forms.Form):
    """Lots by hand: for each line its usable lots, and how much to take of each. A line left empty: as suggested."""

    def __init__(
        self,
        *args: Any,
        needs: Sequence[Need],
        lots: Mapping[int, Sequence[Lot]],
        chosen: Mapping[int, Mapping[int, int]] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.needs = needs
        self.lots = {
            need.line.pk: self._shown(need, lots.get(need.item.pk, ()), chosen or {}) for need in needs
        }
        for need in needs:
            for lot in self.lots[need.line.pk]:
                taken = (chosen or {}).get(need.line.pk, {}).get(lot.pk)
                field = forms.CharField(
                    label=f"Take of {lot.spaced_code}, {need.item}",
                    max_length=40,
                    required=False,
                    initial=entry_text(taken, need.item.unit) if taken else "",
                    widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
                )
                field.unit_label = "" if need.item.dimension is Dimension.COUNT else need.item.unit  # type: ignore[attr-defined]
                self.fields[take_name(need.line.pk, lot.pk)] = field

    @staticmethod
    def _shown(need: Need, lots: Sequence[Lot], chosen: Mapping[int, Mapping[int, int]]) -> list[Lot]:
        named = {pick.lot.pk for pick in need.picks} | set(chosen.get(need.line.pk, ()))
        return [lot for place, lot in enumerate(lots) if place < LOTS_AT_MOST or lot.pk in named]

    def rows(self) -> list[tuple[Need, list[tuple[Lot, int, Width, forms.BoundField]]]]:
        """Each line with its lots, what is suggested of each (base units), its width and the field beside it."""
        found = []
        wide = widths({lot.pk for lots in self.lots.values() for lot in lots})
        for need in self.needs:
            picks = {pick.lot.pk: pick.quantity for pick in need.picks}
            lots = self.lots[need.line.pk]
            fields = [
                (lot, picks.get(lot.pk, 0), wide[lot.pk], self[take_name(need.line.pk, lot.pk)])
                for lot in lots
            ]
            if fields:
                found.append((need, fields))
        return found

    def clean(self) -> dict[str, Any]:
        """Base units by lot, by line; a line without any is not among them."""
        data = super().clean() or self.cleaned_data
        chosen: dict[int, dict[int, int]] = {}
        for need in self.needs:
            for lot in self.lots[need.line.pk]:
                name = take_name(need.line.pk, lot.pk)
                text = (data.get(name) or "").strip()
                if not text.strip("0.,"):
                    continue
                try:
                    chosen.setdefault(need.line.pk, {})[lot.pk] = read_amount(text, need.item)
                except ValidationError as error:
                    self.add_error(name, error)
        data["chosen"] = chosen
        return data

    @property
    def any_typed(self) -> bool:
        """Whether anything stands in a field, so that the page shows it."""
        return any(str(self[name].value() or "").strip() for name in self.fields)


class ReplanForm(ChangeForm, forms.Form):
    """Another day for a planned run, or another number."""

    quantity = forms.CharField(
        label="How many",
        max_length=40,
        widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
    )
    planned_on = DayField(label="On")

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        item = batch.item
        unit = "" if item.dimension is Dimension.COUNT else f" {item.unit}"
        shown = {"quantity": f"{entry_text(batch.quantity, item.unit)}{unit}", "planned_on": batch.planned_on}
        kwargs["initial"] = shown
        super().__init__(*args, **kwargs)
        self.item: Item = item
        self.carry_what_is_shown()

    def clean_quantity(self) -> int:
        """Base units of the product."""
        try:
            amount = parse_quantity(self.cleaned_data["quantity"], self.item.dimension)
        except QuantityError as error:
            raise ValidationError(str(error)) from error
        if amount > self.item.plausible_limit:
            raise ValidationError(
                f"{self.item.quantity(amount)} is more than is expected at once. Check the figure, or raise the limit "
                "on the item's page."
            )
        return amount
