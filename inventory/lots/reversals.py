"""What follows in stock when a decanting is reversed; see `inventory.ledger.reversals`."""

from collections.abc import Sequence

from inventory.ledger.reversals import Follower
from inventory.lots import holding
from inventory.models import Movement, Posting
from studio.people.signature import Signature


class HoldsPouredBack(Follower):
    """What stands on a jar that was poured back stands on what it was poured into: all that was put on it since it was
    filled; what it inherited then is the parent's own."""

    def follow(self, movements: Sequence[Movement], signature: Signature) -> None:
        """Pass the holds of the jars on to the lots they go back into."""
        if self.posting.kind != Posting.Kind.DECANT:
            return
        poured = [move for move in movements if move.kind == Movement.Kind.DECANTED]
        stands = holding.standing_on(move.lot_id for move in poured if move.quantity > 0)
        since = [hold for holds in stands.values() for hold in holds if hold.at > self.posting.recorded_at]
        holding.pass_on({move.lot_id: since for move in poured if move.quantity < 0}, signature=signature)
