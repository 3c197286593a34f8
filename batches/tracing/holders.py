"""Who has some of what is traced: everybody once, with all that went to them and has not come back. Pure; no query."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from batches.models import Batch
from batches.tracing.trace import ShippedPart, Trace
from inventory.models import Channel, Customer, Item
from inventory.models.dispatches import party_called
from studio.core.quantities import Dimension
from studio.models import User

NO_BREAK = "\N{NO-BREAK SPACE}"


@dataclass
class Holder:
    """A customer, or where none is on record whoever bought on a channel; `left` is the earliest first.

    `codes` stand on what they have: of its batch, or of its lot where it was bought.
    """

    customer: Customer | None
    channel: Channel | None
    left: list[ShippedPart] = field(default_factory=list)
    codes: list[str] = field(default_factory=list)

    def display_name(self, user: User) -> str:
        """Who it is, as far as this person may know."""
        return party_called(self.customer, self.channel, user)

    def reached(self, user: User) -> str:
        """How they are reached, for owner and makers."""
        return self.customer.reached(user) if self.customer else ""

    @property
    def goods(self) -> str:
        """What they have, the most of it first."""
        sums: dict[Item, int] = {}
        for row in self.left:
            sums[row.lot.item] = sums.get(row.lot.item, 0) + row.quantity
        most = sorted(sums.items(), key=lambda pair: (-pair[1], pair[0].name.casefold()))
        return ", ".join(goods_words(item, quantity) for item, quantity in most)

    @property
    def sendings(self) -> int:
        """By how many dispatches it went there."""
        return len({row.dispatch.pk for row in self.left})

    @property
    def references(self) -> list[str]:
        """Their orders, each once."""
        return list(dict.fromkeys(row.dispatch.reference for row in self.left if row.dispatch.reference))


def goods_words(item: Item, quantity: int) -> str:
    """So much of an item, in words: "4 × Rain on Slate tin", "120 g of Rain on Slate fragrance"."""
    between = "×" if item.dimension is Dimension.COUNT else "of"
    return f"{item.quantity(quantity)} {between} {item}"


def holders_of(trace: Trace) -> list[Holder]:
    """Everybody who has some of it, who has most of the root first."""
    made_by = _made_by(trace)
    found: dict[tuple[int | None, int | None], Holder] = {}
    for row in trace.left:
        of = row.dispatch
        holder = found.setdefault(of.party, Holder(of.customer, None if of.customer else of.channel))
        holder.left.append(row)
        batch = made_by.get(row.lot.pk)
        code = (batch.spaced_code if batch else row.lot.spaced_code).replace(" ", NO_BREAK)
        if code not in holder.codes:
            holder.codes.append(code)
    return sorted(found.values(), key=_most_first)


def _most_first(holder: Holder) -> tuple[Fraction, int]:
    return -sum((row.amount for row in holder.left), Fraction(0)), holder.left[0].dispatch.pk


def _made_by(trace: Trace) -> Mapping[int, Batch]:
    """The batch of each lot that came of one, by the lot's key."""
    came = [*trace.up.came, *trace.down.came]
    return {row.lot: trace.batches[row.batch] for row in came if row.lot is not None}
