"""What follows in sales when a shipment is reversed; see `inventory.ledger.reversals`."""

from collections.abc import Sequence

from inventory.ledger.reversals import Follower
from inventory.models import Customer, CustomerOrder, Dispatch, Movement, Posting, Return
from inventory.sales_orders import order_progress
from studio.people.signature import Signature


class ShipmentUndone(Follower):
    """What came back of it goes first; the sales order it was sent for wants the goods again."""

    order: CustomerOrder | None = None

    def lock_first(self) -> None:
        """The order, the shipment, and who waits for the order: all stand before lots."""
        if self.posting.kind != Posting.Kind.DISPATCH:
            return
        self.order = order_progress.lock_of_posting(self.posting.pk)
        Dispatch.objects.select_for_update(no_key=True).filter(posting=self.posting).first()
        if self.order:
            Customer.objects.select_for_update(no_key=True).get(pk=self.order.customer_id)

    def objection(self) -> str:
        """A return of some of it that stands."""
        if Return.objects.filter(dispatch__posting=self.posting, posting__reversal__isnull=True).exists():
            return "Some of this came back. Reverse that return first."
        return ""

    def follow(self, movements: Sequence[Movement], signature: Signature) -> None:
        """Settle the order."""
        if self.order:
            order_progress.settle(self.order, signature)
