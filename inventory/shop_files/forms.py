"""What people say of a shop: its name, what its columns hold, and which of its products are which of ours."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.items.forms import choices_of
from inventory.models import Channel, Item, Shop
from inventory.sales_orders.designs import NOT_APPROVED
from inventory.shop_files.reading import FIELDS, NEEDED, Product
from studio.web.forms import ChangeModelForm

NOT_OURS = "none"


class ShopForm(ChangeModelForm):
    """A shop: what it is called here, through which channel it sells, what its orders become."""

    class Meta:
        model = Shop
        fields = ["name", "channel", "becomes"]
        labels = {"becomes": "Its orders become"}
        help_texts = {
            "name": "As you call it; the columns of its file are kept under this name.",
            "becomes": "Orders wait to be sent and are promised stock. Dispatches take lots from the shelf at once, the "
            "oldest released first.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        channel = self.fields["channel"]
        channel.required = False
        channel.queryset = Channel.objects.filter(retired=False)  # type: ignore[attr-defined]
        channel.empty_label = "No channel"  # type: ignore[attr-defined]
        self.fields["new_channel"] = forms.CharField(
            label="Or a new channel", max_length=60, required=False, help_text="For example Web shop."
        )
        self.order_fields(["name", "channel", "new_channel", "becomes"])
        if self.instance.pk:
            self.carry_what_is_shown()


class ColumnsForm(forms.Form):
    """Which heading of the file stands for what."""

    days = forms.ChoiceField(
        label="A date such as 03/04/2026",
        required=False,
        choices=[("", "Not said: ask me"), ("day", "Day first: 3 April"), ("month", "Month first: 4 March")],
    )

    def __init__(
        self, *args: Any, headings: Sequence[str], columns: Mapping[str, str], days: str = "", **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for name, label in FIELDS.items():
            self.fields[f"column-{name}"] = forms.ChoiceField(
                label=label,
                required=name in NEEDED,
                choices=[("", "Not in this file"), *((text, text) for text in dict.fromkeys(headings))],
                initial=columns.get(name, ""),
            )
        self.initial = {**self.initial, "days": days}
        self.order_fields([*(f"column-{name}" for name in FIELDS), "days"])

    def clean(self) -> dict[str, Any]:
        """A column stands for one thing."""
        data = super().clean() or self.cleaned_data
        seen: dict[str, str] = {}
        for name, label in FIELDS.items():
            text = data.get(f"column-{name}") or ""
            if text and text in seen:
                self.add_error(f"column-{name}", f"This column is taken for “{seen[text]}” already.")
            seen.setdefault(text, label)
        return data

    def columns(self) -> dict[str, str]:
        """The heading of each thing that is read. Only after the form is valid."""
        return {name: self.cleaned_data[f"column-{name}"] for name in FIELDS}


class ProductsForm(forms.Form):
    """What each of a shop's words stands for. A name that is exactly ours is chosen already, and kept by the press."""

    def __init__(
        self,
        *args: Any,
        words: Sequence[str],
        items: Sequence[Item],
        known: Mapping[str, Product] | None = None,
        unapproved: Collection[int] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.words = list(words)
        same: dict[str, int | str] = {item.name.casefold(): item.pk for item in items}
        kept = known or {}
        same |= {text.casefold(): each.item_id or NOT_OURS for text, each in kept.items()}
        ours = [
            (pk, f"{name} ({NOT_APPROVED})" if pk in unapproved else name)
            for pk, name in choices_of(list(items), "Choose a product")
        ]
        offered = [*ours, (NOT_OURS, "None of ours: leave it out")]
        for place, text in enumerate(self.words):
            self.fields[f"item-{place}"] = forms.ChoiceField(
                label=text[:120], choices=offered, initial=same.get(text.casefold(), "")
            )
            self.fields[f"pieces-{place}"] = forms.IntegerField(
                label="Pieces in each",
                min_value=1,
                max_value=1000,
                initial=kept[text].pieces if text in kept else 1,
                widget=forms.TextInput(attrs={"inputmode": "numeric"}),
            )
            self.fields[f"words-{place}"] = forms.CharField(
                initial=text, widget=forms.HiddenInput, max_length=200
            )

    def rows(self) -> list[tuple[forms.BoundField, forms.BoundField, forms.BoundField]]:
        """For each of the shop's words the product, the pieces and the words themselves."""
        return [
            (self[f"item-{place}"], self[f"pieces-{place}"], self[f"words-{place}"])
            for place in range(len(self.words))
        ]

    def clean(self) -> dict[str, Any]:
        """What is kept is what was shown beside it."""
        data = super().clean() or self.cleaned_data
        for place, text in enumerate(self.words):
            if data.get(f"words-{place}", text) != text:
                raise ValidationError("The file holds other products now. Look at it again.")
        return data

    def products(self) -> dict[str, Product]:
        """Only after the form is valid."""
        found = {}
        for place, text in enumerate(self.words):
            chosen = self.cleaned_data[f"item-{place}"]
            item_id = None if chosen == NOT_OURS else int(chosen)
            found[text] = Product(item_id, self.cleaned_data[f"pieces-{place}"])
        return found
