"""Chemical hazard labeling of a version at its load: kept, and held against what it was taken from.

In the European Union and Great Britain a scented candle is a mixture under CLP (Regulation (EC) No 1272/2008 and, in
Great Britain, the retained version of it), classified as it is placed on the market: at its load, not as the neat oil.
Article 17 lists the elements of its label. Nothing is classified here; a competent person does that.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction

from batches.formulas.loads import Load, loads
from batches.formulas.sheet import Sheet
from batches.lineage.composition import on_shelf
from batches.models import FormulaVersion, HazardLabel, HazardSource
from batches.models.hazard_labels import load_words
from inventory.models import Document, Kind
from studio.people.signature import Signature

# Where a scented candle is a mixture under CLP.
CLP_MARKETS = frozenset({"eu", "gb"})
ASK = (
    "In the EU and Great Britain a scented candle is a mixture under CLP (Regulation (EC) No 1272/2008) and is classified "
    "at its load, not as the neat oil, samples and testers included. Ask a competent person or the supplier."
)
MISSING = "No chemical hazard labeling is on record for this version. " + ASK


class CannotTake(Exception):
    """Label elements cannot be entered so. Its text is a sentence for a person."""


@dataclass(frozen=True)
class HazardStanding:
    """What is on record of a version's label elements. `label` is None where nothing is.

    `changes` are sentences: what differs from what the elements were taken from. `is_scented` says whether there is a
    load at all.
    """

    label: HazardLabel | None
    sources: Sequence[HazardSource]
    changes: Sequence[str]
    is_scented: bool

    @property
    def is_current(self) -> bool:
        """Whether elements are on record and nothing they rest on is seen to have changed."""
        return self.label is not None and not self.changes

    def cautions(self, market: str) -> list[str]:
        """What has to be said of it in a market: nothing where CLP does not hold."""
        if market not in CLP_MARKETS or not self.is_scented or self.is_current:
            return []
        if self.label is None:
            return [MISSING]
        return [f"The chemical hazard labeling on record is outdated. {' '.join(self.changes)} {ASK}"]


def scents_of(version: FormulaVersion, sheet: Sheet | None) -> list[Load]:
    """The fragrances of a version with their loads, exact, what recovered melt on the shelf brings along among them.

    `version` comes with its lines and their items. No query where nothing in it is made here.
    """
    lines = list(version.lines.all())
    # A fragrance blend is classified as the one that it is, by its own document.
    inside = {line: portion for line, portion in on_shelf(lines).items() if portion.whole is None}
    return [load for load in loads(lines, sheet, inside) if load.item.kind == Kind.FRAGRANCE]


def hazard_standing(version: FormulaVersion, sheet: Sheet | None) -> HazardStanding:
    """The newest label elements of a version, else of its formula, and what has changed since. Three queries."""
    scents = scents_of(version, sheet)
    entered = HazardLabel.objects.filter(version__formula=version.formula_id).select_related(
        "version__formula", "entered_by"
    )
    rows = list(entered.order_by("-entered_at", "-pk"))
    own = next((row for row in rows if row.version_id == version.pk), None)
    label = own or (rows[0] if rows else None)
    if label is None:
        return HazardStanding(None, (), (), bool(scents))
    sources = list(label.sources.select_related("fragrance", "document"))
    items = [source.fragrance_id for source in sources]
    sheets = Document.objects.filter(
        item__in=items, kind=Document.Kind.SAFETY, lot__isnull=True, withdrawn=False, erased=False
    )
    return HazardStanding(label, sources, changes_since(sources, scents, list(sheets)), bool(scents))


def changes_since(
    sources: Sequence[HazardSource], scents: Sequence[Load], sheets: Iterable[Document]
) -> list[str]:
    """What differs between what label elements were taken from and a version, as sentences.

    `sheets` are the safety data sheets that count now, of any of the fragrances.
    """
    now = {load.item.pk: load for load in scents}
    found = [
        f"Taken without {load.item}, which is in this version."
        for key, load in now.items()
        if key not in {source.fragrance_id for source in sources}
    ]
    for source in sources:
        load = now.get(source.fragrance_id)
        if load is None:
            found.append(f"Taken with {source.fragrance}, which is not in this version.")
            continue
        if (source.of_wax, source.of_melt) != (load.of_wax, load.of_melt):
            found.append(
                f"{source.fragrance} was taken at {load_words(source.of_wax, source.of_melt)}; "
                f"this version has {load_words(load.of_wax, load.of_melt)}."
            )
        found += _of_document(source, sheets)
    return found


def _of_document(source: HazardSource, sheets: Iterable[Document]) -> list[str]:
    """Whether the document still counts, and whether a newer sheet was filed beside its fragrance."""
    document = source.document
    if document.erased or document.withdrawn:
        fate = "erased" if document.erased else "withdrawn"
        return [f"The document it was taken from, {document}, was {fate}."]
    newer = [
        sheet
        for sheet in sheets
        if sheet.item_id == source.fragrance_id
        and sheet.pk != document.pk
        and (sheet.added_at, sheet.pk) > (document.added_at, document.pk)
    ]
    if not newer:
        return []
    sheet = max(newer, key=lambda one: (one.added_at, one.pk))
    return [
        f"A newer safety data sheet of {source.fragrance} was filed on {sheet.added_at:%d %b %Y} ({sheet})."
    ]


@transaction.atomic
def enter_hazard_label(
    version: FormulaVersion,
    elements: Mapping[str, Any],
    documents: Mapping[int, Document],
    scents: Sequence[Load],
    *,
    signature: Signature,
) -> HazardLabel:
    """Keep the label elements of a version with its load and the document of each fragrance, by item's key.

    Raises CannotTake.
    """
    if not scents:
        raise CannotTake("This version has no fragrance load. Enter wax and fragrance first.")
    # Read anew under the lock: a document may be withdrawn while the form is open.
    keys = [document.pk for document in documents.values()]
    counted = {row.pk: row for row in Document.objects.select_for_update().filter(pk__in=keys).order_by("pk")}
    for load in scents:
        chosen = documents.get(load.item.pk)
        document = counted.get(chosen.pk) if chosen else None
        if document is None:
            raise CannotTake(f"Name the document of {load.item}. File it beside the item first.")
        if document.item_id != load.item.pk or document.erased or document.withdrawn:
            raise CannotTake(f"{document} does not count for {load.item} any more. Choose another document.")
    label = HazardLabel.objects.create(
        version=version, entered_by=signature.by, entered_at=signature.recorded_at, **elements
    )
    HazardSource.objects.bulk_create(
        HazardSource(
            label=label,
            fragrance=load.item,
            document=documents[load.item.pk],
            of_wax_top=load.of_wax.numerator,
            of_wax_bottom=load.of_wax.denominator,
            of_melt_top=load.of_melt.numerator,
            of_melt_bottom=load.of_melt.denominator,
        )
        for load in scents
    )
    return label
