"""The formula version or product of a batch was recorded wrongly."""

from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from django.shortcuts import redirect

from batches.fetch import batch_of
from batches.models import Batch, FormulaVersion
from batches.planning import plans
from batches.production import versions
from inventory.ledger import books
from studio.people.access import MAKERS, allow
from studio.web.forms import ReasonForm
from studio.web.requests import StudioRequest, answer, sign
from studio.web.submissions import once


class VersionForm(ReasonForm):
    """Which version it was really made from, and why the record said another."""

    version = forms.ModelChoiceField(
        FormulaVersion.objects.none(), label="Really made from", empty_label="Choose a version"
    )

    def __init__(self, *args: Any, batch: Batch, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        every = FormulaVersion.objects.select_related("formula__item").exclude(pk=batch.version_id)
        every = every.filter(formula__item__unit=batch.item.unit).order_by("formula__name", "-number")
        self.fields["version"].queryset = every  # type: ignore[attr-defined]
        self.order_fields(["version", "reason"])


@allow(see=MAKERS, do=MAKERS)
def batch_version(request: StudioRequest, code: str) -> HttpResponse:
    """Correct the formula version, and before output the product, with a reason."""
    batch = batch_of(code)
    form = VersionForm(request.POST or None, batch=batch)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        signature = sign(request, reason=data["reason"])

        def act() -> str:
            versions.correct_version(batch.pk, data["version"].pk, signature=signature)
            return batch.get_absolute_url()

        try:
            url = once(request, act)
        except (plans.BatchError, books.BookError) as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
        else:
            messages.success(request, f"The batch is of {data['version']} now; the record keeps both.")
            return redirect(url)
    context = {
        "form": form,
        "batch": batch,
        "heading": "Correct the formula version",
        "what": f"It is recorded as made from {batch.version}. What was used stays as it is; targets, standard cost and "
        "the record follow the version you choose, and both stay on record. Another product can be chosen while no "
        "output stands.",
        "button": "Correct the version",
    }
    return answer(request, "batches/batch_reason.html", context, refused=form.is_bound)
