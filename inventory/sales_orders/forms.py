"""What people type about customers' orders: who wants what by when, and which lots leave for it."""

from collections.abc import Collection, Sequence
from dataclasses import asdict, dataclass, fields
from typing import Any

from django import forms

from inventory.items.forms import choices_of
from inventory.lots.suggestion import Suggestion
from inventory.models import CustomerOrder, Item, Kind, Lot
from inventory.sales_orders.customer_orders import OrderHead, fingerprint, said_of
from inventory.sales_orders.designs import NOT_APPROVED
from inventory.sales_orders.order_standing import OrderLineStatus
from studio.core.quantities import Dimension
from studio.web.forms import DayField, MeanwhileForm, quantity_field
from studio.web.line_forms import Lines, lines_of

LINES_AT_MOST = 40


class CustomerOrderForm(MeanwhileForm):
    """The head of a customer's order."""

    customer = forms.CharField(max_length=120)
    wanted_on = DayField(label="Wanted on")
    channel = forms.CharField(max_length=60, required=False, help_text="Web shop, market, wholesale, event.")
    reference = forms.CharField(label="Their order reference", max_length=60, required=False)
    contact = forms.CharField(label="Whom to ask for", max_length=120, required=False)
    reach = forms.CharField(
        label="How to reach them",
        max_length=500,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Shown to owner and makers only.",
    )
    note = forms.CharField(max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    named = "this order"

    def __init__(self, *args: Any, order: CustomerOrder | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order = order
        if order:
            self.initial.update(asdict(said_of(order)), seen=fingerprint(order))

    def now(self) -> str:
        """What stands there when it is sent."""
        return fingerprint(self.order) if self.order else ""

    def said(self) -> OrderHead:
        """The head, understood. Only after the form is valid."""
        return OrderHead(**{each.name: self.cleaned_data[each.name] for each in fields(OrderHead)})


class CustomerOrderLineForm(forms.Form):
    """So many of one product."""

    item = forms.ModelChoiceField(
        Item.objects.filter(kind=Kind.FINISHED), label="Product", empty_label="Choose a product"
    )
    quantity = quantity_field(Dimension.COUNT, unit="each", label="How many")
    drop = forms.BooleanField(label="Leave out", required=False)

    def __init__(
        self, *args: Any, items: list[Item], unapproved: Collection[int] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        choices = choices_of(items, "Choose a product")
        self.fields["item"].choices = [  # type: ignore[attr-defined]
            (pk, f"{name} ({NOT_APPROVED})" if pk in unapproved else name) for pk, name in choices
        ]

    def has_changed(self) -> bool:
        """A line that is left out counts as one that was never filled in."""
        return not (self.is_bound and self["drop"].data) and super().has_changed()

    def clean(self) -> dict[str, Any]:
        """No more than is believable."""
        data = super().clean() or self.cleaned_data
        item, quantity = data.get("item"), data.get("quantity")
        if item and quantity and quantity > item.plausible_limit:
            self.add_error(
                "quantity",
                f"More than {item.quantity(item.plausible_limit)} is not expected at once. Check the figure, or raise "
                "the limit on the item's page.",
            )
        return data


class WantedLines(Lines):
    """Lines of a customer's order: each product stands on one."""

    needed = "Order at least one thing."

    def clean(self) -> None:
        """At least one line, and every product once."""
        super().clean()
        seen = set()
        for form in self.filled:
            item = form.cleaned_data.get("item")
            if item and item.pk in seen:
                form.add_error("item", "This product stands on a line above. Put both together.")
            elif item:
                seen.add(item.pk)

    def wanted(self) -> dict[int, int]:
        """Base units by item. Only after the lines are valid."""
        filled = [form.cleaned_data for form in self.filled]
        return {data["item"].pk: data["quantity"] for data in filled}


CustomerOrderLines = lines_of(CustomerOrderLineForm, LINES_AT_MOST, WantedLines)


@dataclass(frozen=True)
class LotChoice:
    """A line of an order with the lots that may leave for it and those suggested."""

    standing: OrderLineStatus
    lots: Sequence[Lot]
    suggestion: Suggestion
    more: int = 0  # lots that are not shown

    @property
    def item(self) -> Item:
        """What is wanted."""
        return self.standing.item

    @property
    def filled(self) -> dict[int, int]:
        """What is suggested of each lot, in base units by its key."""
        return {pick.lot_id: pick.quantity for pick in self.suggestion.picks}

    @property
    def missing(self) -> int:
        """What is wanted and not there for this order, in base units."""
        return self.standing.left - self.standing.ready

    @property
    def claimed(self) -> bool:
        """Whether more lies on the shelf, for orders that are wanted earlier."""
        return bool(self.missing) and sum(lot.on_hand for lot in self.lots) > self.standing.ready
