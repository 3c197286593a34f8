"""Labels for finished candles: product, net weight, batch and lot, who made it, and the warning."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404

from batches.formulas.hazard_labels import hazard_standing
from batches.formulas.sheet import batch_sheet
from batches.lineage.other_scents import other_scents
from batches.models import Batch, Outcome
from batches.records.forms import JarLabelForm
from batches.records.jar_label_pdf import laid_out
from batches.records.jar_label_text import JarTexts, What, jar_texts, labels_of
from inventory.labels.sheets import LABELS_AT_MOST, LayoutError, sheets_of
from inventory.labels.texts import layout_of, layouts_for
from inventory.models import Kind, LabelLayout, Lot
from studio.confirmed_warnings import confirmed_warning
from studio.core.codes import normalise
from studio.core.label_warnings import paraphrase_of
from studio.people.access import EVERYONE, allow
from studio.web.requests import StudioRequest, answer, shown_pdf

PRINT = "print"
UNCONFIRMED = (
    "The warning on the label is not confirmed for this market yet. The owner reads and confirms its words once; "
    "then labels are printed."
)


@dataclass(frozen=True)
class LabelRequest:
    """Which labels, on which layout, with the label elements or without."""

    what: What
    layout: LabelLayout
    with_hazards: bool


@allow(see=EVERYONE)
def jar_labels(request: StudioRequest, code: str) -> HttpResponse:
    """Labels for a lot of finished goods; once the form was filled in, the sheets."""
    lot = get_object_or_404(Lot.objects.select_related("item"), code=normalise(code))
    if lot.item.kind != Kind.FINISHED:
        raise Http404
    outcomes = (
        Outcome.objects.filter(lot=lot)
        .select_related("batch__version__formula__item")
        .prefetch_related("batch__version__lines__item")
    )
    outcome = outcomes.first()
    texts = _texts(request, lot, outcome.batch) if outcome else None
    asked = PRINT in request.GET
    form = JarLabelForm(
        request.GET if asked else None, lots=[lot], texts=texts, initial=_initial(request, lot, texts)
    )
    if texts and asked and form.is_valid() and texts.confirmed is None:
        form.add_error(None, UNCONFIRMED)
    elif texts and asked and form.is_valid():
        try:
            data = form.cleaned_data
            count = len(form.wanted())
            labels = LabelRequest(What(data["what"]), data["layout"], bool(data.get("hazards")))
            pdf = _sheets(texts, labels, count, data["start"])
        except LayoutError as error:
            form.add_error("start" if error.figure == "start" else "layout", str(error))
        else:
            return shown_pdf(pdf, f"jar-labels-{lot.code}")
    any_layout = bool(form.fields["layout"].queryset)  # type: ignore[attr-defined]
    context = {
        "lot": lot,
        "texts": texts,
        "form": form,
        "print": PRINT,
        "any_layout": any_layout,
        "paraphrase": paraphrase_of(request.studio.market),
        "others": other_scents(outcome.batch) if outcome else None,
    }
    return answer(request, "batches/jar_labels.html", context, refused=form.is_bound)


def _texts(request: StudioRequest, lot: Lot, batch: Batch) -> JarTexts:
    """What its labels say, with the warning that was confirmed and the label elements on record."""
    version = batch.version
    # One unit: the loads are the same for any number.
    hazards = hazard_standing(version, batch_sheet(version.recipe(), 1)) if version.fill_ug else None
    return jar_texts(
        lot, batch, request.studio, confirmed=confirmed_warning(request.studio.market), hazards=hazards
    )


def _initial(request: StudioRequest, lot: Lot, texts: JarTexts | None) -> dict[str, Any]:
    """One label for each unit on hand, and the first way of printing them on which everything fits."""
    layouts = layouts_for(request.studio.page_size)
    asked = request.GET.get("what", "")
    hazards = bool(texts and texts.hazard_words)
    ways = [What(asked)] if asked in list(What) else [What.TOGETHER, What.APART]
    chosen = LabelRequest(ways[0], layouts[0], hazards) if layouts else None
    if texts and layouts:
        chosen = _first_that_fits(texts, layouts, ways, hazards) or chosen
    return {
        "layout": chosen and chosen.layout,
        "start": 1,
        "what": chosen.what if chosen else ways[0],
        "hazards": hazards,
        lot.code: min(lot.on_hand or 1, LABELS_AT_MOST),
    }


def _first_that_fits(
    texts: JarTexts, layouts: Sequence[LabelLayout], ways: Sequence[What], with_hazards: bool
) -> LabelRequest | None:
    """The usual layout before the others, and on each the warning on the jar label before one of its own."""
    for layout in layouts:
        for what in ways:
            wanted = LabelRequest(what, layout, with_hazards)
            try:
                _sheets(texts, wanted, 1, 1)
            except LayoutError:
                continue
            return wanted
    return None


def _sheets(texts: JarTexts, wanted: LabelRequest, count: int, start: int) -> bytes:
    """The labels of `count` units as a PDF. Raises LayoutError."""
    layout = layout_of(wanted.layout)
    labels = labels_of(texts, wanted.what, layout, with_hazards=wanted.with_hazards) * count
    return sheets_of(labels, layout, start, laid_out=laid_out, title="Jar labels")
