"""The page where a version's chemical hazard labeling is entered and read."""

from collections import defaultdict
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from django.shortcuts import redirect

from batches.fetch import version_of
from batches.formulas.forms_hazard_label import NO_WORD, HazardLabelForm
from batches.formulas.hazard_labels import (
    ASK,
    CLP_MARKETS,
    CannotTake,
    enter_hazard_label,
    hazard_standing,
    scents_of,
)
from batches.formulas.sheet import batch_sheet
from batches.formulas.views import SHOWN_MASS, SHOWN_UNITS
from inventory.models import Document
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web.requests import StudioRequest, answer, sign
from studio.web.submissions import once


@allow(see=EVERYONE, do=MAKERS)
def version_hazard_label(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Label elements of a version at its load: what is on record, what changed since, and a form to enter them."""
    version = version_of(pk, number)
    sheet = batch_sheet(version.recipe(), SHOWN_UNITS if version.fill_ug else SHOWN_MASS)
    scents = scents_of(version, sheet)
    documents: dict[int, list[Document]] = defaultdict(list)
    items = [load.item.pk for load in scents]
    kinds = (Document.Kind.SAFETY, Document.Kind.OTHER)
    for document in Document.objects.filter(item__in=items, kind__in=kinds, withdrawn=False, erased=False):
        documents[document.item_id].append(document)
    standing = hazard_standing(version, sheet)
    label = standing.label
    start: dict[str, Any] = {} if label is None else {"pictograms": label.pictograms.split()}
    if label is not None:
        start |= {
            name: getattr(label, name)
            for name in HazardLabelForm.Meta.fields
            if name not in {"pictograms", "none_needed"}
        }
        start["signal"] = label.signal or NO_WORD
    form = HazardLabelForm(
        request.POST or None,
        scents=scents,
        documents=documents,
        outdated=bool(label and standing.changes),
        initial=start,
    )
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            enter_hazard_label(version, form.elements(), form.documents(), scents, signature=sign(request))
            return version.get_absolute_url()

        try:
            url = once(request, act)
        except CannotTake as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
        else:
            messages.success(request, "The label elements are on record with this load and its documents.")
            return redirect(url)
    context = {
        "version": version,
        "form": form,
        "standing": standing,
        "scents": scents,
        "lacking": [load.item for load in scents if not documents[load.item.pk]],
        "ask": ASK,
        "under_clp": request.studio.market in CLP_MARKETS,
    }
    return answer(request, "batches/version_hazard_label.html", context, refused=form.is_bound)
