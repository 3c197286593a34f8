"""What a view takes from a request: who signs, and how often. The only readers of the clock are views."""

from datetime import date, datetime

from django.http import HttpRequest
from django.utils import timezone

from studio.signature import Signature


def sign(request: HttpRequest, *, happened_at: datetime | None = None, reason: str = "") -> Signature:
    """The visitor's name under something that happened at a time, or now."""
    now = timezone.now()
    return Signature(by=request.user, happened_at=happened_at or now, recorded_at=now, reason=reason)  # type: ignore[arg-type]


def today() -> date:
    """The day it is in the studio."""
    return timezone.localdate()
