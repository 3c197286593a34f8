"""Suppliers and items: known by name, capitals or not. One that is there stays as it is."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.core.validators import validate_email

from inventory.importing.cells import Cells, ImportRow, Problem, fold
from inventory.importing.columns import plain
from inventory.importing.findings import Entry, Findings
from inventory.models import DIMENSION_OF, Import, Item, Kind, LoadBasis, Supplier, Unit
from inventory.models.items import wrong_unit
from studio.core.percent import PercentError, format_percent, parse_percent
from studio.core.quantities import QuantityError, read_unit
from studio.core.temperatures import TemperatureError, format_temperature, parse_temperature
from studio.people.signature import Signature
from studio.web.reading_tables import shown

DAYS_AT_MOST = 36_500

_KINDS: dict[str, Kind] = {
    plain(word): kind
    for kind in Kind
    for word in (kind.value, kind.label, f"{kind.label}s", f"{kind.label}es", f"{kind.label} oil")
}
_KINDS |= {
    plain(word): kind
    for kind, words in {
        Kind.FRAGRANCE: ("scent", "scents", "fragrance oil", "oil", "essential oil"),
        Kind.DYE: ("colour", "color", "colourant", "pigment"),
        Kind.VESSEL: ("jar", "jars", "tin", "tins", "glass", "container", "bowl"),
        Kind.PACKAGING: ("box", "boxes", "packing"),
        Kind.FINISHED: ("finished", "finished goods", "candle", "candles", "product"),
    }.items()
    for word in words
}
_KINDS_NAMED = ", ".join(str(kind.label).lower() for kind in Kind)
_BASES = {
    plain(word): basis
    for basis, words in {
        LoadBasis.OF_WAX: ("wax", "of wax", "f/w", "of_wax"),
        LoadBasis.OF_MELT: ("melt", "of melt", "f/m", "of_melt", "total"),
    }.items()
    for word in words
}


def suppliers(cells: Cells, rows: Sequence[ImportRow], now: datetime) -> Findings:
    """See `Findings`."""

    def show(supplier: Supplier) -> tuple[str, ...]:
        lead = "" if supplier.lead_days is None else f"{supplier.lead_days} days"
        return supplier.name, supplier.contact, supplier.email, lead

    findings = Findings(("Name", "Contact", "E-mail", "Lead time"), show)
    names = {fold(supplier.name): supplier for supplier in Supplier.objects.all()}

    def read(row: ImportRow) -> dict[str, Any]:
        email = cells.text(row, "email", 254)
        if email:
            try:
                validate_email(email)
            except ValidationError:
                cells.fail(row, "email", "This is not an e-mail address.")
        return {
            "name": cells.text(row, "name", 120),
            "contact": cells.text(row, "contact", 120),
            "email": email,
            "phone": cells.text(row, "phone", 40),
            "lead_days": cells.whole(row, "lead_days", 3_650),
            "notes": cells.long_text(row, "note", 2_000),
        }

    def entry(row: ImportRow, fields: dict[str, Any]) -> Entry:
        return Entry(row.number, repr(fields), Supplier(**fields))

    _by_name(cells, rows, findings, names, read, entry, {"notes": "note"})
    return findings


def items(cells: Cells, rows: Sequence[ImportRow], now: datetime) -> Findings:
    """See `Findings`."""
    findings = Findings(
        ("Name", "Kind", "Unit", "Usual place"),
        lambda item: (item.name, item.kind_words, item.unit, item.place),
    )
    names = {fold(item.name): item for item in Item.objects.all()}

    def entry(row: ImportRow, fields: dict[str, Any]) -> Entry:
        return Entry(row.number, repr(fields), Item(**fields))

    columns = {
        "notes": "note",
        "flash_point_mc": "flash_point",
        "maximum_load_ppm": "maximum_load",
        "maximum_load_basis": "load_basis",
    }
    _by_name(cells, rows, findings, names, lambda row: _item(cells, row), entry, columns)
    return findings


def _item(cells: Cells, row: ImportRow) -> dict[str, Any]:
    """The fields of an item as a row gives them; what is wrong is remembered by `cells`."""
    name = cells.text(row, "name", 120)
    kind = cells.one_of(row, "kind", _KINDS, _KINDS_NAMED)
    unit = _unit(cells, row)
    made_here = cells.yes(row, "made_here")
    if kind and unit and (wrong := wrong_unit(kind, DIMENSION_OF[unit])):
        cells.fail(row, "unit", wrong)
    if made_here and kind is Kind.FINISHED:
        cells.fail(
            row, "made_here", "A finished good is always made here; this is for blends used in batches."
        )
    load = _parsed(cells, row, "maximum_load", parse_percent, PercentError)
    basis = cells.one_of(row, "load_basis", _BASES, "wax, melt")
    if (
        load is not None
        and basis is None
        and "load_basis" not in row.bad
        and not cells.typed(row, "load_basis")
    ):
        cells.fail(
            row, "load_basis", "Say whether the maximum is a share of wax or of melt.", "Write wax or melt."
        )
    return {
        "name": name,
        "kind": kind.value if kind else "",
        "unit": unit.value if unit else "",
        "made_here": made_here,
        "place": cells.text(row, "place", 60),
        "shelf_life_days": cells.whole(row, "shelf_life_days", DAYS_AT_MOST),
        "flash_point_mc": _parsed(
            cells,
            row,
            "flash_point",
            lambda text: parse_temperature(text, cells.studio.scale),
            TemperatureError,
        ),
        "maximum_load_ppm": load,
        "maximum_load_basis": basis.value if basis and load is not None else "",
        "notes": cells.long_text(row, "note", 2_000),
    }


def _unit(cells: Cells, row: ImportRow) -> Unit | None:
    text = cells.text(row, "unit", 20)
    if not text:
        return None
    for dimension in dict.fromkeys(DIMENSION_OF.values()):
        try:
            return Unit(read_unit(text, dimension))
        except ValueError:
            continue
    try:
        read_unit(text, DIMENSION_OF[Unit.GRAM])
        sentence = ""
    except QuantityError as error:
        sentence = str(error)
    known = ", ".join(Unit.values)
    cells.fail(
        row, "unit", sentence if "volume" in sentence or "can mean" in sentence else f"Write one of: {known}."
    )
    return None


def _parsed(cells: Cells, row: ImportRow, key: str, parse: Any, wrong: type[ValueError]) -> Any:
    """What a parser makes of a cell; None where it is empty or refused."""
    text = cells.typed(row, key)
    if not text:
        return None
    try:
        return parse(text)
    except wrong as error:
        cells.fail(row, key, str(error))
        return None


def _by_name(
    cells: Cells,
    rows: Sequence[ImportRow],
    findings: Findings,
    names: Mapping[str, Any],
    read: Any,
    entry: Any,
    columns: Mapping[str, str],
) -> None:
    """Sort rows into new names, known ones, and known ones with other values; `columns` where a field's is named
    otherwise."""
    seen: dict[str, tuple[int, str]] = {}
    for row in rows:
        before = len(cells.problems)
        fields = read(row)
        if len(cells.problems) > before or row.bad or not fields["name"]:
            continue
        made = entry(row, fields)
        name = fold(fields["name"])
        if name in seen:
            number, says = seen[name]
            if says == made.says:
                findings.known += 1
            else:
                cells.fail(
                    row, "name", f"Row {number} has this name already, with other values.", "Keep one."
                )
            continue
        seen[name] = row.number, made.says
        known = names.get(name)
        if known is None:
            findings.new.append(made)
            continue
        findings.known += 1
        for field, value in fields.items():
            key = columns.get(field, field)
            # What the file does not say does not differ.
            if field == "name" or value in (None, "") or key not in cells.headings.place:
                continue
            if getattr(known, field) != value:
                findings.differs.append(_difference(cells, row, key, field, known))


def _difference(cells: Cells, row: ImportRow, key: str, field: str, known: Any) -> Problem:
    value = getattr(known, field)
    if field == "flash_point_mc" and value is not None:
        value = format_temperature(value, cells.studio.scale)
    elif field == "maximum_load_ppm" and value is not None:
        value = format_percent(value)
    elif field in ("kind", "maximum_load_basis"):
        value = getattr(known, f"get_{field}_display")()
    elif field == "made_here":
        value = "yes" if value else "no"
    said = "nothing" if value in (None, "") else shown(str(value))
    return Problem(
        row.number,
        cells.headings.heading_of(key, cells.shape),
        shown(cells.typed(row, key)),
        f"{known} has {said} here, and keeps it.",
    )


def add_suppliers(entries: Sequence[Entry], run: Import, signature: Signature) -> None:
    """Write new suppliers."""
    Supplier.objects.bulk_create([entry.what for entry in entries])


def add_items(entries: Sequence[Entry], run: Import, signature: Signature) -> None:
    """Write new items."""
    Item.objects.bulk_create([entry.what for entry in entries])
