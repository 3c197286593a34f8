"""A run that will not come again: all it drew is left out of the usual use in one press, or counted again."""

from django.http import HttpResponse

from batches.fetch import batch_of
from batches.models import Draw
from batches.planning.plans import BatchError
from batches.production.views import with_reason
from inventory.replenishment import one_offs
from studio.people.access import MAKERS, allow
from studio.people.signature import Signature
from studio.web.requests import StudioRequest


def _postings(batch_id: int) -> set[int]:
    """The postings of what the run drew and that stands."""
    return set(Draw.objects.standing().filter(batch=batch_id).values_list("movement__posting", flat=True))


@allow(see=MAKERS, do=MAKERS)
def batch_one_off(request: StudioRequest, code: str) -> HttpResponse:
    """Leave all that a run drew out of the usual use; where all of it is, count it again."""
    batch = batch_of(code)
    leave_out = not one_offs.all_one_off(_postings(batch.pk))

    def act(batch_id: int, *, signature: Signature) -> None:
        one_off = request.POST.get("to") != "usual"
        try:
            one_offs.mark_all(_postings(batch_id), one_off=one_off, signature=signature)
        except one_offs.OneOffError as error:
            raise BatchError(str(error)) from error

    context = {
        "heading": "Leave the run out of the usual use" if leave_out else "Count the run as usual use again",
        "what": "The books stay as they are; only what to buy is reckoned "
        f"{'without' if leave_out else 'with'} what it drew.",
        "button": "Leave it out" if leave_out else "Count it again",
        "done": "What the run drew is left out of the usual use."
        if leave_out
        else "What the run drew counts as usual use again.",
        "to": "one-off" if leave_out else "usual",
    }
    return with_reason(request, batch, act, context)
