"""What people type about recalls, turned into facts or a sentence beside the field."""

from collections.abc import Sequence
from typing import Any

from django import forms

from batches.models import RecallAnswer
from batches.recalls.letters import ADVICE
from batches.recalls.progress import Goods
from inventory.lots.succession import standing_for
from inventory.models import Item, Lot
from studio.core.codes import is_valid, near, normalise, spaced
from studio.web.forms import DayField, quantity_field

CODES_AT_MOST = 40


def suppliers_siblings(lots: Sequence[Lot]) -> list[Lot]:
    """Other lots that came with the same supplier's number as any of these, and of the same item; one query."""
    numbers = {(lot.supplier_id, lot.item_id, lot.supplier_lot) for lot in lots if lot.supplier_lot}
    named = Lot.objects.filter(supplier_lot__in={number for *_, number in numbers}).select_related(
        "item", "supplier"
    )
    known = {lot.pk for lot in lots}
    return [
        lot
        for lot in named.order_by("pk")
        if lot.pk not in known and (lot.supplier_id, lot.item_id, lot.supplier_lot) in numbers
    ]


class RecallForm(forms.Form):
    """From which lots, why, and whether it is a drill."""

    codes = forms.CharField(
        label="Suspect lots",
        max_length=1000,
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
        help_text="Codes of lots, with spaces or commas between. Everything that carries some of them is found.",
    )
    is_drill = forms.ChoiceField(
        label="What it is",
        widget=forms.RadioSelect,
        initial="no",
        choices=[
            ("no", "A recall: whatever is affected and still here goes on hold at once"),
            ("yes", "A mock recall: a drill with a clock; nothing goes on hold"),
        ],
    )
    why = forms.CharField(
        label="What is wrong",
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="As customers will read it: what happened or may happen, in plain words that do not play it down.",
    )
    advice = forms.CharField(
        label="What customers are asked to do",
        max_length=1000,
        required=False,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=f"Left empty, they are told: {ADVICE}",
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots: list[Lot] = []
        self.replaced: list[tuple[Lot, list[Lot]]] = []

    def clean_codes(self) -> str:
        """Lots by their codes, each once."""
        text = self.cleaned_data["codes"].replace(",", " ").replace(";", " ")
        codes = list(dict.fromkeys(filter(None, map(normalise, _words(text)))))
        if len(codes) > CODES_AT_MOST:
            raise forms.ValidationError(f"Name at most {CODES_AT_MOST} lots at a time.")
        found = {lot.code: lot for lot in Lot.objects.filter(code__in=codes).select_related("item")}
        if unknown := [code for code in codes if code not in found]:
            raise forms.ValidationError(_unknown(unknown[0]))
        asked = [found[code] for code in codes]
        # A code on a jar may have been replaced since: what carries it is of the lots in its place.
        instead = standing_for(asked)
        self.replaced = [(lot, instead[lot.pk]) for lot in asked if lot.pk in instead]
        by_key = {other.pk: other for lot in asked for other in instead.get(lot.pk, [lot])}
        self.lots = list(by_key.values())
        return " ".join(codes)


def _words(text: str) -> list[str]:
    """The codes in a line; a code may be written in groups of three."""
    words: list[str] = []
    for part in text.split():
        if words and not is_valid(normalise(words[-1])) and len(words[-1]) + len(part) <= 12:
            words[-1] += part
        else:
            words.append(part)
    return words


def _unknown(code: str) -> str:
    meant = [lot.spaced_code for lot in Lot.objects.filter(code__in=near(code))[:3]]
    said = spaced(code) if is_valid(code) else code
    return f"No lot carries {said}." + (f" Did you mean {' or '.join(meant)}?" if meant else "")


class AnswerForm(forms.Form):
    """What happened with one customer: told, answered, so many back or gone."""

    kind = forms.ChoiceField(label="What happened", choices=RecallAnswer.Kind.choices)
    on = DayField(label="On")
    note = forms.CharField(
        max_length=200,
        required=False,
        help_text="How they were told, what they answered, a parcel number. No names: this stays in the record.",
    )

    def __init__(self, *args: Any, goods: Sequence[Goods], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.goods = goods
        for each in goods:
            unit = None if each.item.unit == "each" else each.item.unit
            self.fields[self._name(each)] = quantity_field(
                each.item.dimension,
                unit=unit,
                required=False,
                label=f"How many {each.item}" if unit is None else f"How much {each.item}",
                help_text=f"{each.item.quantity(each.left)} not accounted for.",
            )
        self.order_fields(["kind", *map(self._name, goods), "on", "note"])

    @staticmethod
    def _name(goods: Goods) -> str:
        return f"quantity-{goods.item.pk}"

    def quantities(self) -> dict[Item, int]:
        """Base units by item. Only after the form is valid."""
        typed = {each.item: self.cleaned_data.get(self._name(each)) for each in self.goods}
        return {item: quantity for item, quantity in typed.items() if quantity}

    def clean(self) -> dict[str, Any]:
        """A quantity belongs to what says where goods are, and to nothing else."""
        data = super().clean() or self.cleaned_data
        counting = data.get("kind") in RecallAnswer.ACCOUNTING
        names = [self._name(each) for each in self.goods]
        typed = [name for name in names if data.get(name)]
        if counting and names and not typed and not self.errors:
            self.add_error(names[0], "Say how many.")
        if not counting and typed:
            self.add_error(
                "kind",
                "A quantity goes with Returned, Destroyed or Used up before. Choose one, or leave it empty.",
            )
        return data


class CloseForm(forms.Form):
    """How it ended."""

    finding = forms.CharField(
        label="What was found",
        max_length=2000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text="What caused it, what is done so that it does not happen again, what went well in finding out.",
    )
