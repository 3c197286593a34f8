"""The printed batch ticket."""

from django.http import HttpResponse

from batches.fetch import batch_of
from batches.formulas.approving import owners_word
from batches.planning import plans
from batches.planning.planning import plan_of_batch
from batches.records.ticket_pdf import ticket_pdf
from batches.records.ticket_text import ticket_of
from studio.people.access import EVERYONE, allow
from studio.web.requests import StudioRequest, printed_by, shown_pdf, today


@allow(see=EVERYONE)
def batch_ticket(request: StudioRequest, code: str) -> HttpResponse:
    """The printed batch ticket."""
    batch = batch_of(code)
    plan = plan_of_batch(batch, on=today(), drawn=plans.drawn_by_line(batch))
    url = request.build_absolute_uri(batch.get_absolute_url())
    ticket = ticket_of(
        batch,
        plan,
        request.studio,
        batch.draws.standing().with_lots(),
        url=url,
        printed=printed_by(request),
        owners_word=owners_word(batch.version),
    )
    return shown_pdf(ticket_pdf(ticket), f"batch-{batch.code}")
