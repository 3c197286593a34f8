"""How far a recall has got: who was told and answered, what is accounted for, and whether the quantities add up."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from fractions import Fraction

from batches.models import Recall, RecallAnswer, RecallLot, RecallParty, RecallSent
from inventory.models import Item, Kind
from studio.core.quantities import Dimension

# Food scheme practice (BRCGS 3.9): a trace both ways with mass balance within four hours, tested yearly.
BENCHMARK = timedelta(hours=4)
NAMED = 3


@dataclass
class Goods:
    """Of one product: how much went to somebody, and what became of it. Base units."""

    item: Item
    sent: int = 0
    returned: int = 0
    destroyed: int = 0
    used_up: int = 0

    @property
    def accounted(self) -> int:
        """Of which it is known where it is."""
        return self.returned + self.destroyed + self.used_up

    @property
    def left(self) -> int:
        """Of which it is not known yet."""
        return self.sent - self.accounted


@dataclass
class PartyProgress:
    """Somebody who got affected goods: of which lots, and how far they are."""

    party: RecallParty
    sent: list[RecallSent] = field(default_factory=list)
    answers: list[RecallAnswer] = field(default_factory=list)
    goods: dict[int, Goods] = field(default_factory=dict)
    told_on: date | None = None
    answered_on: date | None = None

    @property
    def left(self) -> list[Goods]:
        """Products of which something is not accounted for."""
        return [goods for goods in self.goods.values() if goods.left]

    @property
    def most(self) -> list[Goods]:
        """The products of which most went there, at most three."""
        return sorted(self.goods.values(), key=lambda goods: -goods.sent)[:NAMED]

    @property
    def more(self) -> int:
        """How many other products went there."""
        return max(len(self.goods) - NAMED, 0)

    @property
    def references(self) -> list[str]:
        """Their orders, each once."""
        return list(dict.fromkeys(row.dispatch.reference for row in self.sent if row.dispatch.reference))

    @property
    def left_words(self) -> str:
        """What is not accounted for: pieces together, everything else product by product."""
        pieces = sum(goods.left for goods in self.left if _counted(goods.item))
        weighed = [goods.item.quantity(goods.left) for goods in self.left if not _counted(goods.item)]
        return ", ".join([*([f"{pieces:,}"] if pieces else []), *weighed]) or "–"

    @property
    def state(self) -> tuple[str, str]:
        """The mark and the word for how far it is."""
        if not self.left:
            return "good", "Accounted for"
        if self.answered_on or any(goods.accounted for goods in self.goods.values()):
            return "attention", "Answered"
        return ("attention", "Told") if self.told_on else ("problem", "To be told")


@dataclass(frozen=True)
class Progress:
    """A recall as it stands. Units are finished goods counted in pieces."""

    recall: Recall
    lots: Sequence[RecallLot]
    parties: Sequence[PartyProgress]

    @property
    def suspects(self) -> list[RecallLot]:
        """The lots it began with."""
        return [lot for lot in self.lots if lot.suspect]

    @property
    def goods(self) -> list[RecallLot]:
        """Lots of finished goods. What came back since the first look is left out: it is still counted as sent, with
        what is entered of whom it went to. So is what had come back before it and did not after all, once a step has
        taken in that it is with them."""
        goods = [lot for lot in self.lots if lot.lot.item.kind == Kind.FINISHED]
        sent = {(row.lot_id, row.dispatch_id): row.step.number for each in self.parties for row in each.sent}
        return [
            lot
            for lot in goods
            if not _came_back(lot) or (lot.step.number == 1 and not _taken_in_again(lot, sent))
        ]

    @property
    def here(self) -> list[RecallLot]:
        """Lots of which something was still here."""
        return [lot for lot in self.lots if lot.on_hand]

    @property
    def held(self) -> list[RecallLot]:
        """Lots that are on hold because of it, or were already."""
        return [lot for lot in self.lots if lot.held_now or lot.held_before]

    @property
    def told(self) -> int:
        """Customers that were told; who answered or sent something back must have been."""
        return sum(1 for each in self.parties if each.state[1] != "To be told")

    @property
    def answered(self) -> int:
        """Customers that answered."""
        return sum(
            1 for each in self.parties if each.answered_on or any(g.accounted for g in each.goods.values())
        )

    @property
    def units_made(self) -> int:
        """Finished goods that are affected; what came back was made once."""
        return sum(lot.came for lot in self.goods if _counted(lot.lot.item) and not _came_back(lot))

    @property
    def units_here(self) -> int:
        """Finished goods that were still here."""
        return sum(lot.on_hand for lot in self.goods if _counted(lot.lot.item))

    @property
    def units_lost(self) -> int:
        """Finished goods that were scrapped, sampled or used here."""
        return sum(lot.lost + lot.used for lot in self.goods if _counted(lot.lot.item))

    @property
    def units_sent(self) -> int:
        """Units that went to somebody."""
        return sum(
            goods.sent for each in self.parties for goods in each.goods.values() if _counted(goods.item)
        )

    @property
    def units_accounted(self) -> int:
        """Units of which it is known what became of them."""
        every = (goods for each in self.parties for goods in each.goods.values())
        return sum(goods.accounted for goods in every if _counted(goods.item))

    @property
    def told_share(self) -> Fraction | None:
        """Of all customers those that were told."""
        return _share(self.told, len(self.parties))

    @property
    def answered_share(self) -> Fraction | None:
        """Of all customers those that answered."""
        return _share(self.answered, len(self.parties))

    @property
    def accounted_share(self) -> Fraction | None:
        """Of all units sent those that are accounted for."""
        return _share(self.units_accounted, self.units_sent)

    @property
    def traced_share(self) -> Fraction | None:
        """Of what came of the suspect lots, that of which the books say where it went. None where units differ."""
        if len({lot.lot.item.unit for lot in self.suspects}) != 1:
            return None
        came = sum(lot.came for lot in self.suspects)
        return _share(came - sum(abs(lot.unexplained) for lot in self.suspects), came)

    @property
    def unexplained(self) -> list[RecallLot]:
        """Lots whose quantities do not add up."""
        return [lot for lot in self.lots if lot.unexplained]

    def ran(self, now: datetime) -> timedelta:
        """How long its clock ran."""
        return self.recall.ran(now)

    def against_practice(self, now: datetime) -> str:
        """How a drill stands to the time of practice, to be followed by it: nothing is within it while it still runs."""
        if self.ran(now) > BENCHMARK:
            return "beyond"
        return "still running, for comparison with" if self.recall.is_open else "within"


def _came_back(lot: RecallLot) -> bool:
    return hasattr(lot.lot, "came_back_from")


def _taken_in_again(lot: RecallLot, sent: Mapping[tuple[int, int], int]) -> bool:
    """Whether its return was reversed and a later step froze that the goods are with whom they went to.

    `sent` is the last step that froze something, by the lot that was sent and its dispatch.
    """
    line = lot.lot.came_back_from
    back = line.goods_return
    reversed_since = hasattr(back.posting, "reversal")
    return reversed_since and sent.get((line.source_id, back.dispatch_id), 0) > lot.step.number


def _counted(item: Item) -> bool:
    return item.dimension is Dimension.COUNT


def _share(some: int, every: int) -> Fraction | None:
    return Fraction(some, every) if every else None


def progress_of(recall: Recall) -> Progress:
    """The recall with all that was frozen and all that was answered; a fixed number of queries."""
    heads = (
        "lot__item",
        "lot__supplier",
        "lot__outcome__batch",
        "lot__came_back_from__goods_return__posting__reversal",
        "step",
    )
    lots = recall.lots.select_related(*heads)
    parties = recall.parties.select_related("customer", "channel", "recall")
    found = {party.pk: PartyProgress(party) for party in parties}
    sent = recall.sent.select_related(
        "lot__item", "lot__outcome__batch", "dispatch__channel", "dispatch__customer", "step"
    )
    for row in sent:
        each = found[row.party_id]
        each.sent.append(row)
        goods = each.goods.setdefault(row.lot.item_id, Goods(row.lot.item))
        goods.sent += row.quantity
    answers = RecallAnswer.objects.filter(party__recall=recall)
    for said in answers.select_related("item", "by", "taken_back", "taken_back__by", "takes_back"):
        each = found[said.party_id]
        each.answers.append(said)
        if said.takes_back_id or hasattr(said, "taken_back"):
            continue
        _count(each, said)
    most_first = sorted(
        found.values(), key=lambda each: (-sum(g.left for g in each.goods.values()), each.party.pk)
    )
    return Progress(recall, list(lots), most_first)


def _count(each: PartyProgress, said: RecallAnswer) -> None:
    """Put an answer that stands to what is known."""
    if said.kind == RecallAnswer.Kind.TOLD:
        each.told_on = min(each.told_on or said.on, said.on)
    elif said.kind == RecallAnswer.Kind.ANSWERED:
        each.answered_on = min(each.answered_on or said.on, said.on)
    elif said.item_id in each.goods:
        goods = each.goods[said.item_id]
        setattr(goods, said.kind, getattr(goods, said.kind) + said.quantity)
