"""What follows when a posting is reversed, in folders the ledger does not know.

The ledger imports nothing else of stock. Who cares about a reversal (an order that was sent or received, a jar that was
poured) says so by a `Follower`, named in the settings (`REVERSAL_FOLLOWERS`).
"""

from collections.abc import Sequence
from functools import cache

from django.conf import settings
from django.utils.module_loading import import_string

from inventory.models import Movement, Posting
from studio.people.signature import Signature


class Follower:
    """Who cares when a posting is reversed; made for each reversal, so that it may keep what it locked.

    Called in this order, within the reversal's transaction; what is not overridden does nothing.
    """

    def __init__(self, posting: Posting) -> None:
        self.posting = posting

    def lock_first(self) -> None:
        """Lock what stands before lots in the order of locks."""

    def objection(self) -> str:
        """Why the posting may not be reversed yet, a sentence; empty where nothing stands against it."""
        return ""

    def follow(self, movements: Sequence[Movement], signature: Signature) -> None:
        """Do what follows; the posting is reversed. `movements` are those that were undone, with their lots."""


def followers_of(posting: Posting) -> list[Follower]:
    """One of every kind, in the order of the settings, for the reversal of this posting."""
    return [make(posting) for make in _kinds()]


@cache
def _kinds() -> tuple[type[Follower], ...]:
    return tuple(import_string(name) for name in settings.REVERSAL_FOLLOWERS)
