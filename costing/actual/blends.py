"""Where the labour and overhead in a batch's blends come from: read level by level, a few queries for each level."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import Prefetch

from batches.models import Batch, Draw, FormulaVersion, Outcome
from costing.actual.passing import Along, BatchNode, LotNode, pass_on
from inventory.models import Movement, ReturnLine


def standing_draws(batch: Batch) -> list[Draw]:
    """The draws of a batch that were not reversed. Expects them with their reversals."""
    return [draw for draw in batch.draws.all() if not hasattr(draw.movement.posting, "reversal")]


@dataclass
class Sources:
    """Blends behind some batches, as they are found."""

    own_of: Callable[[Batch], Along]
    reads: "Sequence[str | Prefetch[Any]]"
    batches: dict[int, BatchNode[Along, int]] = field(default_factory=dict)
    lots: dict[int, LotNode[int]] = field(default_factory=dict)
    blend_items: set[int] = field(default_factory=set)

    def follow(self, batches: Iterable[Batch]) -> dict[int, Along]:
        """What every draw of these batches takes along beyond its material, by movement.

        Expects the batches with their draws. A constant number of queries for each level of blends.
        """
        self.blend_items = set(FormulaVersion.objects.values_list("formula__item_id", flat=True).distinct())
        wanted = self._lots_drawn(batches)
        while wanted:
            wanted = self._read_lots(wanted) - self.lots.keys()
        return pass_on(self.batches, self.lots)

    def _lots_drawn(self, batches: Iterable[Batch]) -> set[int]:
        return {
            draw.movement.lot_id
            for batch in batches
            for draw in standing_draws(batch)
            if draw.line.item_id in self.blend_items
        }

    def _read_lots(self, wanted: set[int]) -> set[int]:
        """Read lots of blends, and what made or filled them. Gives back the lots a level further up."""
        fillings: dict[int, list[int]] = {}
        returned: set[int] = set()
        rows = Movement.objects.standing().filter(lot__in=wanted).in_order()
        for key, lot_id, kind, quantity, posting in rows.values_list(
            "pk", "lot_id", "kind", "quantity", "posting_id"
        ):
            node = self.lots.setdefault(lot_id, LotNode())
            if quantity > 0:
                node.took_in += quantity
                if kind == Movement.Kind.DECANTED:
                    fillings.setdefault(posting, []).append(lot_id)
                elif kind == Movement.Kind.RETURNED:
                    returned.add(lot_id)
            elif quantity < 0:
                node.left.append((key, -quantity))
        for lot_id in wanted:
            self.lots.setdefault(lot_id, LotNode())
        return self._read_fillings(fillings) | self._read_returns(returned) | self._read_makers(wanted)

    def _read_returns(self, returned: set[int]) -> set[int]:
        """From which lots those were sent that came back from customers: each takes its part of what left then."""
        if not returned:
            return set()
        lines = ReturnLine.objects.filter(lot__in=returned)
        columns = ("lot_id", "source_id", "quantity", "goods_return__dispatch__posting")
        back = {lot_id: line for lot_id, *line in lines.values_list(*columns)}
        sent: dict[tuple[int, int], list[tuple[int, int]]] = {}
        rows = Movement.objects.filter(posting__in={posting for *_, posting in back.values()}, quantity__lt=0)
        for key, lot_id, posting, quantity in rows.values_list("pk", "lot_id", "posting_id", "quantity"):
            sent.setdefault((lot_id, posting), []).append((key, -quantity))
        for lot_id, (source_id, quantity, posting) in back.items():
            takings = sent.get((source_id, posting), [])
            node = self.lots[lot_id]
            node.filled_from = [key for key, _ in takings]
            node.share_of_filling = quantity, sum(gone for _, gone in takings)
        return {source_id for source_id, *_ in back.values()}

    def _read_fillings(self, fillings: dict[int, list[int]]) -> set[int]:
        """From which lots others were filled; parents and children of one decanting share by quantity."""
        if not fillings:
            return set()
        out: dict[int, list[tuple[int, int]]] = {}
        into: dict[int, dict[int, int]] = {}
        rows = Movement.objects.filter(posting__in=fillings, kind=Movement.Kind.DECANTED).order_by("pk")
        for key, lot_id, quantity, posting in rows.values_list("pk", "lot_id", "quantity", "posting_id"):
            if quantity < 0:
                out.setdefault(posting, []).append((key, lot_id))
            else:
                into.setdefault(posting, {})[lot_id] = quantity
        parents = set()
        for posting, children in fillings.items():
            for child in children:
                node = self.lots[child]
                node.filled_from = [key for key, _ in out.get(posting, [])]
                node.share_of_filling = (into[posting][child], sum(into[posting].values()))
            parents |= {lot_id for _, lot_id in out.get(posting, [])}
        return parents

    def _read_makers(self, wanted: set[int]) -> set[int]:
        """The batches that made these lots, and the blends they drew in turn."""
        made = Outcome.objects.standing().filter(lot__in=wanted).exclude(result=Outcome.Result.MELT)
        maker = dict(made.values_list("lot_id", "batch_id"))
        for lot_id, batch_id in maker.items():
            self.lots[lot_id].batch = batch_id
        missing = set(maker.values()) - self.batches.keys()
        if not missing:
            return set()
        found = list(Batch.objects.filter(pk__in=missing).with_product().prefetch_related(*self.reads))
        for batch in found:
            self.batches[batch.pk] = self._node(batch)
        return self._lots_drawn(found)

    def _node(self, batch: Batch) -> BatchNode[Along, int]:
        standing = [
            line for line in batch.outcomes.all() if line.lot_id and not hasattr(line.posting, "reversal")
        ]
        results = {line.result for line in standing}
        bearer = Outcome.Result.GOOD if Outcome.Result.GOOD in results else Outcome.Result.SECOND
        made = [(line.lot_id, line.quantity) for line in standing if line.result == bearer]
        out = sum(quantity for _, quantity in made)
        return BatchNode(
            own=self.own_of(batch),
            drew=[draw.movement_id for draw in standing_draws(batch)],
            made=[(lot_id, quantity) for lot_id, quantity in made if lot_id],
            to_come=max(batch.quantity - out, 0) if batch.is_open else 0,
        )
