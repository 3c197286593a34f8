"""What other pages say of complaints: the page of a customer, and a trace; for owner and makers."""

from django.db.models import Q

from batches.models import Complaint
from batches.tracing.trace import Trace
from inventory.models import Customer
from studio.web.panels import Panel
from studio.web.requests import StudioRequest

SHOWN = 20


def complaints_of_customer(request: StudioRequest, customer: Customer) -> Panel | None:
    """What they complained of; nothing where they did not."""
    found = Complaint.objects.with_candle().filter(customer=customer)[:SHOWN] if request.user.makes else []
    return Panel("batches/_complaints.html", {"complaints": found}) if found else None


def complaints_of_trace(request: StudioRequest, trace: Trace) -> Panel | None:
    """Complaints about any candle that carries some of what is traced, and where a recall of it begins."""
    if not request.user.makes:
        return None
    carrying = Q(lot__in=trace.down.lots) | Q(batch__in=trace.down.batches)
    found = Complaint.objects.with_candle().filter(carrying)[:SHOWN]
    context = {"complaints": found, "lot": trace.lot}
    return Panel("batches/_complaints.html", context) if found or trace.lot else None
