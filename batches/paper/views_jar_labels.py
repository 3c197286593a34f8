"""Labels for finished candles: product, net weight, batch and lot, who made it, and the warning."""

from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404

from batches.models import Outcome
from batches.paper.forms import JarLabelForm
from batches.paper.jar_label import laid_out
from batches.paper.jar_label_of import JarTexts, What, jar_texts, labels_of
from batches.paper.other_scents import other_scents
from inventory.labels.sheets import LABELS_AT_MOST, LayoutError, sheets_of
from inventory.labels.texts import layout_of
from inventory.models import Kind, LabelLayout, Lot
from studio.access import EVERYONE, allow
from studio.codes import normalise
from studio.requests import StudioRequest, answer, shown_pdf

PRINT = "print"


@allow(see=EVERYONE)
def jar_labels(request: StudioRequest, code: str) -> HttpResponse:
    """Labels for a lot of finished goods; once the form was filled in, the sheets."""
    lot = get_object_or_404(Lot.objects.select_related("item"), code=normalise(code))
    if lot.item.kind != Kind.FINISHED:
        raise Http404
    outcomes = Outcome.objects.filter(lot=lot).select_related("batch__version__formula__item")
    outcome = outcomes.first()
    texts = jar_texts(lot, outcome.batch, request.studio) if outcome else None
    asked = PRINT in request.GET
    form = JarLabelForm(request.GET if asked else None, lots=[lot], initial=_initial(request, lot, texts))
    if texts and asked and form.is_valid():
        try:
            data = form.cleaned_data
            count = len(form.wanted())
            pdf = _sheets(texts, What(data["what"]), data["layout"], count, data["start"])
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
        "others": other_scents(outcome.batch) if outcome else None,
    }
    return answer(request, "batches/jar_labels.html", context, refused=form.is_bound)


def _initial(request: StudioRequest, lot: Lot, texts: JarTexts | None) -> dict[str, Any]:
    """One label for each unit on hand, on the usual layout; the warning apart where it does not fit on the jar's."""
    usual = LabelLayout.objects.filter(is_default=True, retired=False).first()
    wanted = request.GET.get("what", "")
    what = What(wanted) if wanted in list(What) else What.TOGETHER
    if not wanted and texts and usual:
        try:
            _sheets(texts, what, usual, 1, 1)
        except LayoutError:
            what = What.APART
    return {"layout": usual, "start": 1, "what": what, lot.code: min(lot.on_hand or 1, LABELS_AT_MOST)}


def _sheets(texts: JarTexts, what: What, row: LabelLayout, count: int, start: int) -> bytes:
    """The labels of `count` units as a PDF. Raises LayoutError."""
    layout = layout_of(row)
    labels = labels_of(texts, what, layout) * count
    return sheets_of(labels, layout, start, laid_out=laid_out, title="Jar labels")
