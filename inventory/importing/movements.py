"""Past movements: what was used, sold or thrown away of lots before these books."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches

from inventory.importing.cells import Cells, ImportRow, fold
from inventory.importing.columns import plain
from inventory.importing.days import words
from inventory.importing.findings import HAPPENS_AT, Entry, Findings, Instants, unseen
from inventory.ledger import bulk_books, closing
from inventory.ledger.books import BooksClosed
from inventory.ledger.bulk_books import Event
from inventory.models import Import, ImportedRow, Item, Lot, Movement
from studio.core.codes import is_valid, near, normalise, spaced
from studio.people.signature import Signature

_NEAR_AT_MOST = 40

WHAT = {
    Movement.Kind.DRAWN: ("used", "use", "drawn", "poured", "made", "consumed", "into batch", "batch"),
    Movement.Kind.DISPATCHED: ("sold", "sale", "sales", "sent", "sent out", "shipped", "market", "shop"),
    Movement.Kind.SCRAPPED: (
        "scrapped",
        "scrap",
        "waste",
        "wasted",
        "thrown away",
        "broken",
        "lost",
        "spilled",
    ),
    Movement.Kind.SAMPLED: ("sample", "samples", "sampled", "tester", "gift", "given away"),
    Movement.Kind.SENT_BACK: ("sent back", "returned", "return", "back to supplier"),
    Movement.Kind.FOUND: ("found", "find"),
}
_KINDS = {plain(word): kind for kind, named in WHAT.items() for word in named}
_NAMED = "used, sold, scrapped, sample, sent back, found"


@dataclass(frozen=True)
class PastMovement:
    """One row, understood. `quantity` in base units, below zero for what left the lot."""

    row: ImportRow
    lot: Lot
    kind: Movement.Kind
    quantity: int
    happened_on: date
    note: str

    def says(self) -> str:
        """What the row says, for knowing it again."""
        return "\x1e".join(
            (str(self.lot.pk), self.kind, str(self.quantity), str(self.happened_on), self.note)
        )


class _Lots:
    """The lots a file names, by our code, and by the supplier's number together with the item."""

    def __init__(self, cells: Cells, rows: Sequence[ImportRow], items: dict[str, Item]) -> None:
        self.cells, self.items, self.asked = cells, items, 0
        typed = {cells.typed(row, "lot") for row in rows}
        codes = {text: normalise(text) for text in typed if text}
        self.by_code = {lot.code: lot for lot in _found(code=set(codes.values()))}
        named = {fold(cells.typed(row, "item")) for row in rows}
        item_ids = {items[name].pk for name in named if name in items}
        self.by_number: dict[tuple[int, str], list[Lot]] = {}
        for lot in _found(item=item_ids):
            # One and the same lot, whichever way it is named.
            known = self.by_code.setdefault(lot.code, lot)
            if lot.supplier_lot:
                self.by_number.setdefault((lot.item_id, fold(lot.supplier_lot)), []).append(known)

    def of(self, row: ImportRow) -> Lot | None:
        """The lot of a row; None, and a problem, where it names none, or several."""
        text = self.cells.text(row, "lot", 60)
        item = self.cells.known(row, "item", self.items, "item", "Items")
        if not text or (item is None and self.cells.typed(row, "item")):
            return None
        lot = self.by_code.get(normalise(text))
        if lot is not None:
            if item is not None and item.pk != lot.item_id:
                self.cells.fail(row, "item", f"Lot {lot.spaced_code} is of {lot.item}.")
                return None
            return lot
        if item is None:
            self.cells.fail(
                row,
                "lot",
                "No lot carries this code.",
                self._meant(text) or "If it is the supplier's number, name the item beside it.",
            )
            return None
        return self._numbered(row, text, item)

    def _numbered(self, row: ImportRow, text: str, item: Item) -> Lot | None:
        """The lot of an item that carries a supplier's number."""
        lots = self.by_number.get((item.pk, fold(text)), [])
        if len(lots) == 1:
            return lots[0]
        if lots:
            codes = " and ".join(lot.spaced_code for lot in lots[:4])
            self.cells.fail(
                row, "lot", f"Lots {codes} carry this number.", "Write the code of the right one."
            )
            return None
        numbers = [number for item_id, number in self.by_number if item_id == item.pk]
        close = get_close_matches(fold(text), numbers, n=1, cutoff=0.6) if self._may_ask() else []
        meant = self.by_number[item.pk, close[0]][0].supplier_lot if close else ""
        self.cells.fail(
            row,
            "lot",
            f"No lot of {item} carries this code or number.",
            f"Did you mean {meant}?" if meant else "Bring in the lots first, under Opening lots.",
        )
        return None

    def _meant(self, text: str) -> str:
        """Which code a mistyped one may have been."""
        code = normalise(text)
        if is_valid(code) or not self._may_ask():
            return ""
        lot = next(iter(_found(code=near(code))), None)
        return f"Did you mean {spaced(lot.code)} ({lot.item})?" if lot else ""

    def _may_ask(self) -> bool:
        self.asked += 1
        return self.asked <= _NEAR_AT_MOST


def _found(*, code: Iterable[str] = (), item: Iterable[int] = ()) -> Iterable[Lot]:
    rows = Lot.objects.filter(code__in=code) if code else Lot.objects.filter(item__in=item)
    return rows.select_related("item").order_by("pk")


def movements(cells: Cells, rows: Sequence[ImportRow], now: datetime) -> Findings:
    """See `Findings`. New rows are tried against the books as they stand, in the order things happened."""
    findings = Findings(("Date", "Lot", "Item", "What", "Quantity", "Note"), _shown)
    items = {fold(item.name): item for item in Item.objects.all()}
    lots = _Lots(cells, rows, items)
    read = [past for row in rows if (past := _read(cells, row, lots))]
    contents = [past.says() for past in read]
    fresh = unseen(Import.Table.MOVEMENTS, contents, findings)
    instants = Instants(HAPPENS_AT, now)
    events = [_event(read[place], instants) for place, _ in fresh]
    opened = closing.open_from()
    _, refused = bulk_books.weigh({past.lot.pk: past.lot for past in read}, events, now, opened)
    for number, (place, key) in enumerate(fresh):
        past = read[place]
        if error := refused.get(number):
            cells.fail(past.row, "happened_on" if isinstance(error, BooksClosed) else "quantity", str(error))
        else:
            findings.new.append(Entry(past.row.number, contents[place], (past, events[number]), key=key))
    return findings


def _read(cells: Cells, row: ImportRow, lots: _Lots) -> PastMovement | None:
    """A row as a movement; None where something in it cannot be read."""
    before = len(cells.problems)
    day = cells.day(row, "happened_on", past=True)
    lot = lots.of(row)
    kind = cells.one_of(row, "what", _KINDS, _NAMED)
    quantity = cells.quantity(row, "quantity", lot.item) if lot else None
    note = cells.text(row, "note", 300)
    if len(cells.problems) > before or row.bad or not day or not lot or not kind or quantity is None:
        return None
    return PastMovement(row, lot, kind, quantity if kind is Movement.Kind.FOUND else -quantity, day, note)


def _shown(what: tuple[PastMovement, Event]) -> tuple[str, ...]:
    past, _ = what
    lot = past.lot
    return (
        words(past.happened_on),
        lot.spaced_code,
        lot.item.name,
        str(past.kind.label),
        lot.item.quantity(abs(past.quantity)),
        past.note,
    )


def _event(past: PastMovement, instants: Instants) -> Event:
    """A row as the books take it: at noon, or when its lot arrived where that was later on the same day."""
    moment, arrived_at = instants.of(past.happened_on), past.lot.arrived_at
    if moment < arrived_at and instants.day_of(arrived_at) == past.happened_on:
        moment = arrived_at
    return Event(past.lot.pk, past.kind, past.quantity, moment, past.note)


def add_movements(entries: Sequence[Entry], run: Import, signature: Signature) -> None:
    """Write new movements into the books. Raises BookError where they no longer fit."""
    events: list[Event] = [entry.what[1] for entry in entries]
    postings = bulk_books.post_earlier(events, signature)
    ImportedRow.objects.bulk_create(
        ImportedRow(key=entry.key, run_id=run.pk, posting_id=posting.pk, lot_id=event.lot_id)
        for entry, posting, event in zip(entries, postings, events, strict=True)
    )
