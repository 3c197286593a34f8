"""What other pages say of complaints: the page of a customer, and a trace; for owner and makers."""

from django.db.models import Q
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from batches.models import Complaint
from batches.tracing.trace import Trace
from inventory.models import Customer
from studio.web.requests import StudioRequest

SHOWN = 20


def complaints_of_customer(request: StudioRequest, customer: Customer) -> SafeString | str:
    """What they complained of; nothing where they did not."""
    found = Complaint.objects.with_candle().filter(customer=customer)[:SHOWN] if request.user.makes else []
    return render_to_string("batches/_complaints.html", {"complaints": found}, request) if found else ""


def complaints_of_trace(request: StudioRequest, trace: Trace) -> SafeString | str:
    """Complaints about any candle that carries some of what is traced, and where a recall of it begins."""
    if not request.user.makes:
        return ""
    carrying = Q(lot__in=trace.down.lots) | Q(batch__in=trace.down.batches)
    found = Complaint.objects.with_candle().filter(carrying)[:SHOWN]
    context = {"complaints": found, "lot": trace.lot}
    return render_to_string("batches/_complaints.html", context, request) if found or trace.lot else ""
