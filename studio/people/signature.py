"""Who did something, when it happened, when it was written down, and why."""

from dataclasses import dataclass, replace
from datetime import datetime

from studio.models import User


@dataclass(frozen=True)
class Signature:
    """The name under a posting.

    `happened_at` and `recorded_at` are aware instants; they differ when a run is written up later. Values at a
    past date go by the first, audits by the second.
    """

    by: User
    happened_at: datetime
    recorded_at: datetime
    reason: str = ""

    def because(self, reason: str) -> "Signature":
        """The same signature with a reason."""
        return replace(self, reason=reason)

    def at(self, happened_at: datetime) -> "Signature":
        """The same signature for another instant of the event, still recorded now."""
        return replace(self, happened_at=happened_at)
