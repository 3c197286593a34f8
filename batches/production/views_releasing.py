"""The release of a lot of finished goods: what is to be looked at, and the name of who looked."""

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from batches.fill_checks.checking import WORDS
from batches.fill_checks.forms import ReleaseForm
from batches.formulas.approving import owners_word
from batches.lineage.other_scents import other_scents
from batches.production.off_formula import off_formula
from batches.production.releasing import CannotRelease, batch_of, checks_of, obstacle, release, was_approved
from inventory.lots import holding
from inventory.models import Lot
from studio.confirmed_warnings import confirmed_warning
from studio.core.codes import normalise
from studio.models import Role
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import once


@allow(see=EVERYONE, do=MAKERS)
def lot_release(request: StudioRequest, code: str) -> HttpResponse:
    """Look at a lot that waits and let it go on sale."""
    lot = get_object_or_404(Lot.objects.select_related("item"), code=normalise(code))
    if not lot.awaits_release and request.method != "POST":
        messages.warning(request, f"Lot {lot.spaced_code} does not wait for a release.")
        return redirect(lot)
    batch = batch_of(lot)
    found = checks_of(batch)
    owner = request.user.role == Role.OWNER
    form = ReleaseForm(
        request.POST or None,
        unweighed=found.is_unweighed,
        against=found.against if owner else "",
        initial={"shown": found.shown},
    )
    if request.method == "POST" and form.is_valid():
        try:
            url = once(request, lambda: _release(request, lot, form))
        except holding.AlreadySo as error:
            messages.warning(request, str(error))
            return redirect(lot)
        except CannotRelease as error:
            # What is shown now is what the next press answers for.
            data_again = request.POST.copy()
            data_again["shown"] = found.shown
            form.data = data_again
            form.add_error(NON_FIELD_ERRORS, str(error))
        else:
            messages.success(request, f"Lot {lot.spaced_code} is released for sale.")
            return redirect(url)
    context = {
        "lot": lot,
        "day": today(),
        "warning": confirmed_warning(request.studio.market),
        "batch": batch,
        "form": form,
        "obstacle": obstacle(lot, today()),
        "check": found.check,
        "tone_word": WORDS[found.verdict] if found.verdict else None,
        "version": found.version,
        "made": found.made,
        "off": off_formula(found.made, request.studio.scale) if found.made else [],
        "others": other_scents(batch) if batch else None,
        "approved": found.version is None or was_approved(found.version),
        "owners_word": owners_word(found.version) if found.version else "",
        "only_owner": "" if owner else found.against,
    }
    return answer(request, "batches/lot_release.html", context, refused=form.is_bound)


def _release(request: StudioRequest, lot: Lot, form: ReleaseForm) -> str:
    data = form.cleaned_data
    release(
        lot.pk,
        label_right=data["label_right"],
        warning_on=data["warning_on"],
        unweighed=data.get("unweighed", False),
        note=data["note"],
        despite=data.get("despite", ""),
        shown=data["shown"],
        on=today(),
        signature=sign(request),
    )
    return lot.get_absolute_url()
