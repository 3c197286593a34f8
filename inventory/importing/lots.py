"""Opening lots: what stood on the shelf before these books."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from inventory.deliveries.receiving import LOT_PREFIX
from inventory.importing.cells import Cells, ImportRow, Problem, fold
from inventory.importing.days import words
from inventory.importing.findings import OPENS_AT, Entry, Findings, Instants, unseen
from inventory.ledger import bulk_books, closing
from inventory.ledger.bulk_books import Opening
from inventory.models import Import, ImportedRow, Item, Lot, Supplier
from studio.core.codes import spaced
from studio.core.money import MoneyError
from studio.core.quantities import to_unit
from studio.numbering import next_codes
from studio.people.signature import Signature

CENT = 10_000


@dataclass(frozen=True)
class OpeningLot:
    """One row, understood. `cost` in millionths, None where the file does not say."""

    row: ImportRow
    item: Item
    quantity: int
    cost: int | None
    supplier: Supplier | None
    supplier_lot: str
    arrived_on: date
    expires_on: date | None
    place: str
    container: str
    opened_on: date | None

    def says(self) -> str:
        """What the row says, for knowing it again."""
        parts = (
            self.item.pk,
            self.quantity,
            self.cost,
            self.supplier.pk if self.supplier else "",
            self.supplier_lot,
            self.arrived_on,
            self.expires_on,
            self.place,
            self.container,
            self.opened_on,
        )
        return "\x1e".join(map(str, parts))


def lots(cells: Cells, rows: Sequence[ImportRow], now: datetime) -> Findings:
    """See `Findings`. What is wrong with a row that is in the books already is not asked about again."""
    findings = Findings(
        ("Item", "Quantity", "Cost", "Arrived", "Supplier's lot", "Place"), lambda lot: _shown(cells, lot)
    )
    items = {fold(item.name): item for item in Item.objects.all()}
    suppliers = {fold(supplier.name): supplier for supplier in Supplier.objects.all()}
    read = [lot for row in rows if (lot := _read(cells, row, items, suppliers))]
    contents = [lot.says() for lot in read]
    fresh = unseen(Import.Table.LOTS, contents, findings)
    known = len(read) - len(fresh)
    closed_through = closing.latest()
    for place, key in fresh:
        lot = read[place]
        if closed_through and lot.arrived_on <= closed_through.through:
            cells.fail(
                lot.row,
                "arrived_on",
                f"The books are closed up to {words(closed_through.through)}.",
                "Write a later day.",
            )
        elif _acceptable(cells, lot, findings):
            findings.new.append(Entry(lot.row.number, contents[place], lot, key=key))
    if known or ImportedRow.objects.filter(run__table=Import.Table.LOTS).exists():
        _notice_alike(cells, findings)
    return findings


def _read(
    cells: Cells, row: ImportRow, items: dict[str, Item], suppliers: dict[str, Supplier]
) -> OpeningLot | None:
    """A row as a lot; None where something in it cannot be read."""
    before = len(cells.problems)
    item = cells.known(row, "item", items, "item", "Items")
    quantity = cells.quantity(row, "quantity", item) if item else None
    cost = _cost(cells, row, item, quantity) if item else None
    supplier = cells.known(row, "supplier", suppliers, "supplier", "Suppliers")
    supplier_lot = cells.text(row, "supplier_lot", 60)
    arrived_on = cells.day(row, "arrived_on", past=True)
    expires_on = cells.day(row, "expires_on")
    place = cells.text(row, "place", 60)
    container = cells.text(row, "container", 40)
    opened_on = cells.day(row, "opened_on", past=True)
    if arrived_on and expires_on and expires_on < arrived_on:
        cells.fail(row, "expires_on", "It would have expired before it arrived.")
    if arrived_on and opened_on and opened_on < arrived_on:
        cells.fail(row, "opened_on", "It would have been opened before it arrived.")
    if len(cells.problems) > before or row.bad or item is None or quantity is None or arrived_on is None:
        return None
    return OpeningLot(
        row, item, quantity, cost, supplier, supplier_lot, arrived_on, expires_on, place, container, opened_on
    )


def _cost(cells: Cells, row: ImportRow, item: Item, quantity: int | None) -> int | None:
    """What the lot cost, from the sum or from the unit's price; where both are given they must agree."""
    prices = {key: cells.price(row, key, item) for key in ("cost", "unit_cost")}
    if quantity is None:
        return None
    sums = []
    for key, price in prices.items():
        try:
            sums.append((price, price.total(1, quantity) if price else None))
        except MoneyError as error:
            cells.fail(row, key, str(error))
            return None
    (_, whole), (by_unit, total) = sums
    if whole is None or total is None or by_unit is None:
        return total if whole is None else whole
    # Whoever wrote a unit's price rounded it to the cent.
    slack = CENT + CENT * to_unit(quantity, by_unit.unit or item.unit) / 2
    if abs(whole - total) > slack:
        cells.fail(
            row,
            "unit_cost",
            f"By this the lot cost {cells.in_words(total)}, and "
            f"{cells.headings.heading_of('cost', cells.shape)} says {cells.in_words(whole)}. Keep what is right.",
        )
    return whole


def _shown(cells: Cells, lot: OpeningLot) -> tuple[str, ...]:
    return (
        lot.item.name,
        lot.item.quantity(lot.quantity),
        "worth nothing" if lot.cost is None else cells.in_words(lot.cost),
        words(lot.arrived_on),
        lot.supplier_lot,
        lot.place or lot.item.place,
    )


def _acceptable(cells: Cells, lot: OpeningLot, findings: Findings) -> bool:
    """Whether a new lot may come in; asks about what is likely a slip."""
    before = len(cells.problems)
    if lot.cost is None:
        findings.asks.add("worthless")
        if not cells.choices.worthless:
            cells.fail(
                lot.row,
                "cost",
                "What it cost is not known.",
                "Write the cost, or tick above that lots without one are worth nothing.",
            )
    if lot.quantity > lot.item.plausible_limit:
        findings.asks.add("sure")
        if not cells.choices.sure:
            limit = lot.item.quantity(lot.item.plausible_limit)
            cells.fail(
                lot.row,
                "quantity",
                f"More than {limit} of {lot.item} is not expected.",
                "Check the unit, or tick above that large quantities are right.",
            )
    return len(cells.problems) == before


def _notice_alike(cells: Cells, findings: Findings) -> None:
    """Point at new lots that are of the same item, day and supplier's lot as one in the books: perhaps a row that was
    changed in the file since."""
    there: dict[tuple[int, date, str], str] = {}
    mine = {entry.what.item.pk for entry in findings.new}
    written = Lot.objects.filter(item__in=mine, imported_rows__isnull=False).values_list(
        "item", "arrived_at", "supplier_lot", "code"
    )
    for item_id, arrived_at, supplier_lot, code in written:
        there[item_id, timezone.localtime(arrived_at).date(), fold(supplier_lot)] = code
    for entry in findings.new:
        lot: OpeningLot = entry.what
        alike = there.get((lot.item.pk, lot.arrived_on, fold(lot.supplier_lot)))
        if alike:
            findings.notices.append(
                Problem(
                    entry.row,
                    cells.headings.heading_of("item", cells.shape),
                    lot.item.name,
                    f"Lot {spaced(alike)} is of the same day and came from a table too. Is this another one?",
                )
            )


def add_lots(entries: Sequence[Entry], run: Import, signature: Signature) -> None:
    """Put new lots on the shelf, with codes of their own."""
    found: list[OpeningLot] = [entry.what for entry in entries]
    # Codes last of all locks; nothing else is locked for lots that are new.
    codes = next_codes(LOT_PREFIX, len(found))
    instants = Instants(OPENS_AT, signature.recorded_at)
    openings = [
        Opening(_lot(lot, code, instants), lot.quantity, lot.cost or 0)
        for lot, code in zip(found, codes, strict=True)
    ]
    postings = bulk_books.open_lots(openings, signature)
    ImportedRow.objects.bulk_create(
        ImportedRow(key=entry.key, run_id=run.pk, posting_id=posting.pk, lot_id=opening.lot.pk)
        for entry, posting, opening in zip(entries, postings, openings, strict=True)
    )


def _lot(row: OpeningLot, code: str, instants: Instants) -> Lot:
    expires_on = row.expires_on
    if expires_on is None and row.item.shelf_life_days:
        expires_on = row.arrived_on + timedelta(days=row.item.shelf_life_days)
    return Lot(
        code=code,
        item=row.item,
        supplier=row.supplier,
        supplier_lot=row.supplier_lot,
        arrived_at=instants.of(row.arrived_on),
        expires_on=expires_on,
        place=row.place or row.item.place,
        container=row.container,
        opened_on=row.opened_on,
    )
