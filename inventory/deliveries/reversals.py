"""What follows in purchasing when a delivery is reversed; see `inventory.ledger.reversals`."""

from collections.abc import Sequence

from inventory.ledger.reversals import Follower
from inventory.models import LateCost, Movement, Posting
from inventory.purchasing import ordering
from studio.people.signature import Signature


class DeliveryUndone(Follower):
    """A cost billed later goes first; the purchase order waits for the goods again."""

    def objection(self) -> str:
        """A cost that still rests on the delivery."""
        if LateCost.objects.filter(delivery__posting=self.posting, posting__reversal__isnull=True).exists():
            return "A cost was billed later for this delivery. Reverse that cost first."
        return ""

    def follow(self, movements: Sequence[Movement], signature: Signature) -> None:
        """Settle the order that the delivery was received against."""
        if self.posting.kind == Posting.Kind.RECEIPT:
            ordering.settle_after(self.posting.pk, signature)
