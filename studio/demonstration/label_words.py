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
from studio.core.label_warnings import usual_of
from studio.demonstration.stage import Stage
from studio.models import Studio
from studio.people.signature import Signature

# What is poured now of the first has a higher load than its first version; of the second nothing was changed since.
LOAD_CHANGED, UNCHANGED = "cedar_jar", "quince_jar"
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
    for key in (LOAD_CHANGED, UNCHANGED):
        first_written = stage.products[key].formula.versions.earliest("number")
        _enter(_with_lines(first_written), signature)


def _with_lines(version: FormulaVersion) -> FormulaVersion:
    versions = FormulaVersion.objects.select_related("formula__item").prefetch_related("lines__item")
    return versions.get(pk=version.pk)


def _enter(version: FormulaVersion, signature: Signature) -> None:
    """As the sheets say it, where every fragrance has one."""
    scents = scents_of(version, batch_sheet(version.recipe(), 1))
    sheets = Document.objects.filter(
        item__in=[load.item.pk for load in scents], kind=Document.Kind.SAFETY, withdrawn=False
    )
    of_item = {sheet.item_id: sheet for sheet in sheets.order_by("added_at", "pk")}
    if all(load.item.pk in of_item for load in scents):
        enter_hazard_label(version, ELEMENTS, of_item, scents, signature=signature)
