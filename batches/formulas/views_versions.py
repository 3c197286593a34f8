"""How far a version has got, a formula copied, and two versions side by side."""

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from django.shortcuts import redirect

from batches.fetch import version_of
from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.formulas.comparing import compare
from batches.formulas.forms_approving import CompareForm, CopyForm, StateForm
from batches.models import FormulaVersion
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web.requests import StudioRequest, answer, sign
from studio.web.submissions import once


@allow(see=EVERYONE, do=MAKERS)
def version_state(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """What is asked for before a version is approved, and its state set: trial, approved, retired."""
    version = version_of(pk, number)
    found = approving.conditions(version)
    lacking = approving.missing(found)
    form = StateForm(request.POST or None, version=version, initial={"shown": lacking})
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        signature = sign(request, reason=data["reason"])

        def act() -> str:
            if data["state"] == FormulaVersion.State.APPROVED:
                approving.approve(version.pk, signature=signature, shown=data["shown"])
            else:
                approving.change_state(version.pk, data["state"], signature=signature)
            return version.get_absolute_url()

        try:
            url = once(request, act)
        except approving.NotReady as error:
            form.add_error("state", str(error))
        except approving.StateError as error:
            # What is shown now is what the next press answers for.
            data_again = request.POST.copy()
            data_again["shown"] = lacking
            form.data = data_again
            form.add_error(NON_FIELD_ERRORS, str(error))
        else:
            messages.success(
                request, f"{version} is {FormulaVersion.State(data['state']).label.lower()} now."
            )
            return redirect(url)
    context = {
        "version": version,
        "form": form,
        "conditions": found,
        "lacking": lacking,
        "owners_word": approving.owners_word(version),
        "changes": version.state_changes.select_related("by", "burn_test"),
    }
    return answer(request, "batches/version_state.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def formula_copy(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """A formula for another product that begins as this version is."""
    version = version_of(pk, number)
    form = CopyForm(request.POST or None, version=version)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data

        def act() -> str:
            made = formulas.copy_formula(
                version, name=data["name"], item=data["item"], signature=sign(request)
            )
            return made.get_absolute_url()

        try:
            url = once(request, act)
        except formulas.CannotCopy as error:
            form.add_error("item", str(error))
        else:
            messages.success(request, "Copied. It is at trial until it is burned and approved.")
            return redirect(url)
    return answer(
        request, "batches/formula_copy.html", {"form": form, "version": version}, refused=form.is_bound
    )


@allow(see=EVERYONE)
def version_compare(request: StudioRequest) -> HttpResponse:
    """Two versions side by side, of one formula or of two."""
    asked = {name: request.GET[name] for name in ("left", "right") if request.GET.get(name)}
    form = CompareForm(asked) if len(asked) == 2 else CompareForm(initial=asked)
    context: dict[str, object] = {"form": form}
    if form.is_bound and form.is_valid():
        versions = FormulaVersion.objects.select_related("formula__item").prefetch_related("lines__item")
        left, right = (versions.get(pk=form.cleaned_data[name].pk) for name in ("left", "right"))
        groups = compare(left, right, request.studio)
        differing = sum(row.left != row.right for _, rows in groups for row in rows)
        words = approving.words_of([left, right])
        context |= {"left": left, "right": right, "groups": groups, "differing": differing}
        context |= {"left_word": words.get(left.pk, ""), "right_word": words.get(right.pk, "")}
    return answer(
        request, "batches/version_compare.html", context, refused=form.is_bound and not form.is_valid()
    )
