"""What stands on Ninefold Lane's labels: the warning its owner confirmed, and chemical hazard labeling of two candles.

The elements are invented; one candle's were taken for an earlier load and are outdated.
"""

from datetime import datetime, timedelta
from typing import Any

from batches.formulas.hazard_labels import enter_hazard_label, scents_of
from batches.formulas.sheet import batch_sheet
from batches.models import FormulaVersion, HazardLabel
from inventory.models import Document
from studio import confirmed_warnings
from studio.demonstration.stage import Stage
from studio.label_warnings import usual_of
from studio.models import Studio
from studio.signature import Signature

TELEPHONE = "+00 000 0000"  # no country has this code
ELEMENTS: dict[str, Any] = {
    "none_needed": False,
    "identifiers": "",
    "pictograms": "",
    "signal": HazardLabel.Signal.NONE,
    "hazards": "",
    "precautions": "P102 Keep out of reach of children.",
    "supplemental": "EUH208 Contains an invented sensitizer. May produce an allergic reaction.",
}


def write_labels(stage: Stage, now: datetime) -> None:
    """The warning confirmed before the first jar was labeled; label elements entered since the sheets were filed."""
    studio = Studio.objects.get()
    Studio.objects.filter(pk=studio.pk).update(telephone=TELEPHONE)
    first = now - timedelta(days=540)
    words = usual_of(studio.market).words
    confirmed_warnings.confirm(studio.market, words, signature=Signature(stage.people.owner, first, first))
    then = now - timedelta(days=60)
    signature = Signature(stage.people.owner, then, then)
    _enter(_with_lines(stage.products["cedar_jar"].current()), signature)
    if older := _poured_at_another_load(stage):
        _enter(older, signature)


def _with_lines(version: FormulaVersion) -> FormulaVersion:
    versions = FormulaVersion.objects.select_related("formula__item").prefetch_related("lines__item")
    return versions.get(pk=version.pk)


def _loads(version: FormulaVersion) -> list[tuple[int, Any]]:
    return [(load.item.pk, load.of_melt) for load in scents_of(version, batch_sheet(version.recipe(), 1))]


def _poured_at_another_load(stage: Stage) -> FormulaVersion | None:
    """The first version of a candle whose load was changed later."""
    for key, product in stage.products.items():
        if key == "cedar_jar" or product.version is None or not product.version.fill_ug:
            continue
        older = product.formula.versions.order_by("number").first()
        if older and _loads(_with_lines(older)) != _loads(_with_lines(product.version)):
            return _with_lines(older)
    return None


def _enter(version: FormulaVersion, signature: Signature) -> None:
    """As the sheets say it, where every fragrance has one."""
    scents = scents_of(version, batch_sheet(version.recipe(), 1))
    sheets = Document.objects.filter(
        item__in=[load.item.pk for load in scents], kind=Document.Kind.SAFETY, withdrawn=False
    )
    of_item = {sheet.item_id: sheet for sheet in sheets.order_by("added_at", "pk")}
    if all(load.item.pk in of_item for load in scents):
        enter_hazard_label(version, ELEMENTS, of_item, scents, signature=signature)
