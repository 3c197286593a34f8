"""A trace as a table: a row for each step and for each place where something of the root is. Pure; no query."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction

from batches.lineage.lineage import Key
from batches.models import Batch
from batches.tracing.shares import Place
from batches.tracing.trace import Edge, Trace
from inventory.models import Dispatch, Item, Lot
from studio.core.quantities import from_unit, to_unit
from studio.models import User
from studio.web.tables import exact_cell

HEAD = (
    "Way",
    "Step",
    "From",
    "From item",
    "What",
    "Quantity",
    "Unit",
    "To",
    "To item",
    "By share",
    "Share's unit",
    "When",
    "Supplier",
    "Supplier's lot",
    "Order reference",
    "How to reach them",
)


@dataclass(frozen=True)
class TraceRow:
    """One row: `quantity` base units of `item`; `amount` base units of `of`, worked out by share. `target` is a lot or
    batch, or words such as a customer's."""

    way: str
    step: int
    source: Lot | Batch
    what: str
    quantity: int | None
    item: Item
    target: Lot | Batch | None
    words: str
    amount: Fraction | None
    of: Item
    at: datetime | None = None
    reference: str = ""
    reach: str = ""

    @property
    def cells(self) -> list[object]:
        """The row as a file has it; quantities exact, in the item's unit."""
        source = self.source
        bought = source if isinstance(source, Lot) else None
        return [
            self.way,
            self.step,
            source.code,
            source.item.name,
            self.what,
            None if self.quantity is None else exact_cell(to_unit(self.quantity, self.item.unit)),
            self.item.unit,
            self.target.code if self.target else self.words,
            self.target.item.name if self.target else "",
            None if self.amount is None else exact_cell(self.amount / from_unit(1, self.of.unit)),
            self.of.unit,
            self.at,
            bought.supplier.name if bought and bought.supplier else "",
            bought.supplier_lot if bought else "",
            self.reference,
            self.reach,
        ]


def rows_of(trace: Trace, user: User) -> list[TraceRow]:
    """Every step towards the root, every step onward, and where everything is, in that order."""
    return [*_steps_in(trace), *_steps_on(trace), *_places(trace, user)]


def _depths(trace: Trace, *, back: bool) -> dict[Key, int]:
    """The fewest steps from the root."""
    steps = trace.up.back if back else trace.down.onward
    depths, level = {trace.root: 0}, [trace.root]
    while level:
        level = [
            key
            for here in level
            for key in steps.get(here, ())
            if depths.setdefault(key, depths[here] + 1) == depths[here] + 1
        ]
        level = list(dict.fromkeys(level))
    return depths


def _steps_in(trace: Trace) -> Iterator[TraceRow]:
    depths = _depths(trace, back=True)
    for edge in sorted(trace.went_in, key=lambda edge: depths[edge.target]):
        source = trace.of(edge.source)
        amount = trace.inside.get(edge.source)
        yield _step("In", depths[edge.target] + 1, trace, edge, amount, source.item)


def _steps_on(trace: Trace) -> Iterator[TraceRow]:
    depths = _depths(trace, back=False)
    for edge in sorted(trace.went_on, key=lambda edge: depths[edge.source]):
        amount = trace.shares.amounts.get(edge.target)
        yield _step("Out", depths[edge.source] + 1, trace, edge, amount, trace.item)


def _step(way: str, step: int, trace: Trace, edge: Edge, amount: Fraction | None, of: Item) -> TraceRow:
    target = trace.of(edge.target)
    source = trace.of(edge.source)
    return TraceRow(
        way, step, source, edge.how.capitalize(), edge.quantity, edge.item, target, "", amount, of
    )


def _places(trace: Trace, user: User) -> Iterator[TraceRow]:
    depths = _depths(trace, back=False)
    for row in trace.left:
        step = depths[Key("lot", row.lot.pk)] + 1
        yield TraceRow(
            "Out",
            step,
            row.lot,
            Place.SENT,
            row.quantity,
            row.lot.item,
            None,
            recipient_name(row.dispatch, user),
            row.amount,
            trace.item,
            row.dispatch.posting.happened_at,
            row.dispatch.reference,
            row.dispatch.customer.reached(user) if row.dispatch.customer else "",
        )
    for end in trace.shares.ends:
        if end.place != Place.SENT and end.amount:
            thing = trace.of(end.key)
            step = depths[end.key] + 1
            yield TraceRow(
                "Out", step, thing, end.place, end.quantity, thing.item, None, "", end.amount, trace.item
            )


def recipient_name(dispatch: Dispatch, user: User) -> str:
    """Who got it, as far as this person may know."""
    return dispatch.to_for(user)
