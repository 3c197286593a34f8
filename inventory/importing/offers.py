"""Offers: rows of one supplier, item, pack and day are one offer with its prices from so many packs."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from inventory.importing.cells import Cells, ImportRow, Problem, fold
from inventory.importing.days import words
from inventory.importing.findings import Entry, Findings
from inventory.models import Import, Item, Offer, OfferBreak, Supplier
from inventory.purchasing.offers import BREAKS_AT_MOST, Break, dearer_places, problems_of
from studio.core.quantities import format_quantity
from studio.people.signature import Signature

PACKS_AT_MOST = 100_000


@dataclass
class Quote:
    """One offer as the file has it; the price of a row and where it begins, with the row it stands in."""

    supplier: Supplier
    item: Item
    pack_quantity: int
    quoted_on: date
    typed_pack: str
    minimum_packs: int | None = None
    valid_until: date | None = None
    lead_days: int | None = None
    supplier_code: str = ""
    note: str = ""
    prices: list[tuple[int | None, int, ImportRow]] = field(default_factory=list)

    def breaks(self) -> list[tuple[Break, ImportRow]]:
        """The prices, the fewest packs first; one without a beginning begins at the least that can be ordered."""
        least = self.minimum_packs or 1
        found = [(Break(packs or least, price), row) for packs, price, row in self.prices]
        return sorted(found, key=lambda pair: pair[0].from_packs)


# What may stand in one row of an offer or in all of them, alike.
_SHARED = ("minimum_packs", "valid_until", "lead_days", "supplier_code", "note")


def offers(cells: Cells, rows: Sequence[ImportRow], now: datetime) -> Findings:
    """See `Findings`."""
    findings = Findings(
        ("Supplier", "Item", "Pack", "Quoted on", "Price of a pack"), lambda quote: _shown(cells, quote)
    )
    quotes = _quotes(cells, rows, findings)
    there = _there(quotes)
    for quote in quotes:
        breaks = quote.breaks()
        if _wrong(cells, quote, breaks):
            continue
        says = _says(quote, [each for each, _ in breaks])
        if says in there:
            findings.known += len(breaks)
            continue
        for place in dearer_places([each for each, _ in breaks]):
            findings.notices.append(
                Problem(
                    breaks[place][1].number,
                    cells.headings.heading_of("price", cells.shape),
                    cells.typed(breaks[place][1], "price"),
                    "More packs cost more each here. Prices usually fall.",
                )
            )
        findings.new.append(_entry(quote, says))
    return findings


def _quotes(cells: Cells, rows: Sequence[ImportRow], findings: Findings) -> list[Quote]:
    """The offers of a file, in the order of their first rows."""
    suppliers = {fold(supplier.name): supplier for supplier in Supplier.objects.all()}
    items = {fold(item.name): item for item in Item.objects.all()}
    quotes: dict[tuple[int, int, int, date], Quote] = {}
    for row in rows:
        before = len(cells.problems)
        supplier = cells.known(row, "supplier", suppliers, "supplier", "Suppliers")
        item = cells.known(row, "item", items, "item", "Items")
        pack = cells.quantity(row, "pack", item) if item else None
        price = cells.money(row, "price")
        day = cells.day(row, "quoted_on", past=True)
        packs = cells.whole(row, "from_packs", PACKS_AT_MOST, least=1)
        shared = {
            "minimum_packs": cells.whole(row, "minimum_packs", PACKS_AT_MOST, least=1),
            "valid_until": cells.day(row, "valid_until"),
            "lead_days": cells.whole(row, "lead_days", 3_650),
            "supplier_code": cells.text(row, "supplier_code", 60),
            "note": cells.text(row, "note", 200),
        }
        if len(cells.problems) > before or row.bad:
            continue
        if supplier is None or item is None or pack is None or price is None or day is None:
            continue
        typed = cells.typed(row, "pack")
        named = any(sign.isalpha() for sign in typed) and len(typed) <= 60
        text = typed if named else format_quantity(pack, item.unit)
        quote = quotes.setdefault((supplier.pk, item.pk, pack, day), Quote(supplier, item, pack, day, text))
        for name, value in shared.items():
            if value in (None, ""):
                continue
            if getattr(quote, name) not in (None, "", value):
                cells.fail(row, name, "An earlier row of the same offer says something else.")
            setattr(quote, name, value)
        if any((packs, price) == (each[0], each[1]) for each in quote.prices):
            findings.known += 1
        else:
            quote.prices.append((packs, price, row))
    return list(quotes.values())


def _wrong(cells: Cells, quote: Quote, breaks: list[tuple[Break, ImportRow]]) -> bool:
    """Whether an offer cannot be kept; says why at its rows."""
    wrong = problems_of([each for each, _ in breaks], quote.minimum_packs or 1)
    for problem in wrong:
        cells.fail(breaks[problem.place][1], problem.field, problem.sentence)
    if len(breaks) > BREAKS_AT_MOST:
        cells.fail(breaks[-1][1], "from_packs", f"An offer has at most {BREAKS_AT_MOST} prices.")
    if quote.valid_until and quote.valid_until < quote.quoted_on:
        cells.fail(breaks[0][1], "valid_until", "It would have ended before it was quoted.")
        return True
    return bool(wrong) or len(breaks) > BREAKS_AT_MOST


def _says(quote: Quote, breaks: Sequence[Break]) -> str:
    return _content(
        quote.supplier.pk,
        quote.item.pk,
        quote.pack_quantity,
        quote.quoted_on,
        [(each.from_packs, each.price) for each in breaks],
    )


def _content(supplier: int, item: int, pack: int, day: date, breaks: list[tuple[int, int]]) -> str:
    """What an offer says, for comparing: who, what, how much, when, at which prices."""
    return f"{supplier}|{item}|{pack}|{day.isoformat()}|{sorted(breaks)}"


def _there(quotes: Sequence[Quote]) -> set[str]:
    """What the offers of these suppliers in the books say."""
    known = Offer.objects.filter(supplier__in={quote.supplier.pk for quote in quotes}).prefetch_related(
        "breaks"
    )
    return {
        _content(
            offer.supplier_id,
            offer.item_id,
            offer.pack_quantity,
            offer.quoted_on,
            [(each.from_packs, each.price) for each in offer.breaks.all()],
        )
        for offer in known
    }


def _entry(quote: Quote, says: str) -> Entry:
    more = f"{quote.minimum_packs}|{quote.valid_until}|{quote.lead_days}|{quote.supplier_code}|{quote.note}"
    return Entry(quote.prices[0][2].number, f"{says}|{more}", quote, rows=len(quote.prices))


def _shown(cells: Cells, quote: Quote) -> tuple[str, ...]:
    prices = ", ".join(f"{cells.in_words(each.price)} from {each.from_packs}" for each, _ in quote.breaks())
    return str(quote.supplier), str(quote.item), quote.typed_pack, words(quote.quoted_on), prices


def add_offers(entries: Sequence[Entry], run: Import, signature: Signature) -> None:
    """Write new offers with their prices."""
    quotes: list[Quote] = [entry.what for entry in entries]
    made = Offer.objects.bulk_create(
        Offer(
            supplier=quote.supplier,
            item=quote.item,
            pack_quantity=quote.pack_quantity,
            typed_pack=quote.typed_pack,
            quoted_on=quote.quoted_on,
            minimum_packs=quote.minimum_packs or 1,
            valid_until=quote.valid_until,
            lead_days=quote.lead_days,
            supplier_code=quote.supplier_code,
            note=quote.note,
            by=signature.by,
            recorded_at=signature.recorded_at,
        )
        for quote in quotes
    )
    OfferBreak.objects.bulk_create(
        OfferBreak(offer=offer, from_packs=each.from_packs, price=each.price)
        for offer, quote in zip(made, quotes, strict=True)
        for each, _ in quote.breaks()
    )
