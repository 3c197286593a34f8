"""The texts of the printed trace."""

from collections.abc import Iterable

from batches.records.record_pdf import Section, SheetRow
from batches.tracing import tree as trace_tree
from batches.tracing.holders import Holder, holders_of
from batches.tracing.mass_balance import Balance
from batches.tracing.table import recipient_name
from batches.tracing.trace import Trace, TracePart
from batches.tracing.trace_pdf import Sheet
from batches.tracing.trace_pdf_drawing import fitting
from batches.tracing.tree import Node
from inventory.lots.succession import endings
from inventory.models import Item
from studio.core.codes import spaced
from studio.core.percent import format_percent
from studio.models import Studio, User

BY_SHARE = (
    "How much of one thing is in another is worked out by share: every part of a mix carries of each ingredient what "
    "it carries of the whole."
)
ROWS_MOST = 500


def sheet_of(trace: Trace, balance: Balance | None, *, user: User, studio: Studio, printed: str) -> Sheet:
    """The trace as one sheet, for a person of the studio."""
    root = trace.of(trace.root)
    back = trace_tree.backward(trace)
    onward = trace_tree.forward(trace)
    trees = [
        (title, tuple(_lines(node, user)))
        for title, node in (("What went in", back), ("Where it went", onward))
        if node.children or node.left
    ]
    return Sheet(
        studio=studio.name,
        what="Lot" if trace.lot else "Batch",
        code=root.code,
        item=trace.item.name,
        sentences=(*_ended(trace), BY_SHARE),
        sections=tuple(_sections(trace, balance, user)),
        trees=tuple(trees),
        printed=printed,
        page_size=studio.page_size,
        drawing=fitting(trace, studio.page_size),
    )


def _ended(trace: Trace) -> tuple[str, ...]:
    """That the code leads on or ended, where what brought the lot was reversed."""
    ending = endings([trace.root.pk]).get(trace.root.pk) if trace.lot else None
    return (ending.words,) if ending else ()


def _sections(trace: Trace, balance: Balance | None, user: User) -> Iterable[Section]:
    if trace.sources:
        heads = ("Item", "Lot", "Supplier, their lot", "Arrived", "In it, by share")
        rows = tuple(
            SheetRow(
                (
                    lot.item.name,
                    spaced(lot.code),
                    " ".join(part for part in (str(lot.supplier or ""), lot.supplier_lot) if part),
                    f"{lot.arrived_at:%d %b %Y}",
                    lot.item.share_quantity(amount),
                )
            )
            for lot, amount in trace.sources[:ROWS_MOST]
        )
        yield Section("What it is made of", heads, (3, 1.2, 3, 1.3, 1.5), rows)
    if trace.parts:
        of = "Of this lot, by share" if trace.lot else "Of this batch"
        places = tuple(_part(part, trace.item) for part in trace.parts)
        yield Section("Where it is", ("Where", "What", "Quantity", of), (2, 3, 1.5, 1.5), places)
    if holders := holders_of(trace):
        yield _who_has_it(holders, user)
    if balance and balance.came:
        yield _balance(balance, trace.item)


def _who_has_it(holders: list[Holder], user: User) -> Section:
    """The list to call. What was sent when stands in the list of where it went."""
    rows = tuple(
        SheetRow(
            (
                each.display_name(user),
                each.reached(user) or ", ".join(each.references),
                each.goods,
                ", ".join(each.codes),
            )
        )
        for each in holders[:ROWS_MOST]
    )
    more = len(holders) - ROWS_MOST
    notes = (f"{more} more are in the table on the screen.",) if more > 0 else ()
    heads = ("Who", "How to reach them, or their orders", "What they have", "Codes on it")
    return Section("Who has it", heads, (2.2, 3, 3, 1.6), rows, notes=notes)


def _part(part: TracePart, item: Item) -> SheetRow:
    quantity = "" if part.quantity is None else part.item.quantity(part.quantity)
    return SheetRow((part.place, part.item.name, quantity, item.share_quantity(part.amount)))


def _balance(balance: Balance, item: Item) -> Section:
    whole = [("Came in all", balance.whole)] if len(balance.came) != 1 else []
    rows = [*balance.came, *whole, *balance.went, ("On the shelf", balance.on_hand)]
    share = balance.remainder_share
    percent = f" ({format_percent(share * 1_000_000)})" if share is not None else ""
    told = [SheetRow((word, item.quantity(quantity))) for word, quantity in rows]
    told.append(SheetRow(("Not accounted for", item.quantity(balance.remainder) + percent), "strong"))
    return Section("Balance", ("", "Quantity"), (3, 2), tuple(told))


def _lines(root: Node, user: User) -> Iterable[tuple[int, str]]:
    """The tree line by line, with what was sent out below what it left."""
    for depth, node in trace_tree.flat(root):
        thing = node.lot or node.batch
        if thing is None:
            continue
        what = "Lot" if node.lot else "Batch"
        step = f", {node.item.quantity(node.quantity)} {node.how}" if node.item and node.quantity else ""
        again = " (unfolded elsewhere)" if node.again else ""
        bought = node.lot.supplier if node.lot else None
        where = f", {bought} {node.lot.supplier_lot}".rstrip() if bought and node.lot else ""
        yield depth, f"{what} {spaced(thing.code)} {thing.item.name}{step}{where}{again}"
        for row in node.left:
            quantity = row.lot.item.quantity(row.quantity)
            on = f"{row.dispatch.posting.happened_at:%d %b %Y}"
            yield depth + 1, f"{quantity} to {recipient_name(row.dispatch, user)}, {on}"
