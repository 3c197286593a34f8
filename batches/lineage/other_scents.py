"""Scents that came into a batch with recovered melt: which, how much, and the label words of the formulas they are from.

A formula's own label words speak of the fragrances it names; of what recovered melt brings along they may say nothing.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from batches.lineage import lineage
from batches.lineage.composition import in_lines
from batches.models import Batch, FormulaVersion
from inventory.models import Item
from studio.core.percent import WHOLE, format_percent


@dataclass(frozen=True)
class OtherScents:
    """What recovered melt brought into a pot: scents as shares of all that was weighed in, the largest first.

    `words_of` are the versions with label words that such melt came of; `unknown` says of which melt it is not known what
    is in it.
    """

    scents: tuple[tuple[Item, Fraction], ...] = ()
    words_of: tuple[FormulaVersion, ...] = ()
    unknown: str = ""

    @property
    def words(self) -> str:
        """The scents in words: "fig 2.5 % of the melt, cedar 1 % of the melt"."""
        return ", ".join(f"{item} {format_percent(share * WHOLE)} of the melt" for item, share in self.scents)

    @property
    def any(self) -> bool:
        """Whether there is anything to look at before a label prints."""
        return bool(self.scents or self.unknown)


def other_scents(batch: Batch) -> OtherScents:
    """What recovered melt brought into a batch. A few queries, however many lots it drew."""
    draws = list(batch.draws.standing().with_lots())
    inside = {line: portion for line, portion in in_lines(draws).items() if portion.whole is None}
    if not inside:
        return OtherScents()
    of_line: dict[int, int] = {}
    for draw in draws:
        if draw.line.in_melt:
            of_line[draw.line_id] = of_line.get(draw.line_id, 0) + draw.quantity
    pot = sum(of_line.values())
    sums: dict[Item, Fraction] = {}
    for line, portion in inside.items():
        for item, share in portion.scents.items():
            sums[item] = sums.get(item, Fraction(0)) + share * of_line[line] / pot
    unknown = " ".join(dict.fromkeys(portion.unknown_words for portion in inside.values() if portion.unknown))
    scents = tuple(sorted(sums.items(), key=lambda pair: (-pair[1], pair[0].pk)))
    lots = {draw.movement.lot_id for draw in draws if draw.line_id in inside}
    return OtherScents(scents, tuple(_with_words(lots, batch)) if scents else (), unknown)


def _with_words(lots: Iterable[int], batch: Batch) -> Iterable[FormulaVersion]:
    """The versions with label words whose batches went into these lots, other than the batch's own."""
    before = lineage.ancestors(set(lots)).batches - {batch.pk}
    versions = FormulaVersion.objects.filter(batches__in=before).exclude(pk=batch.version_id)
    return versions.exclude(label_words="").select_related("formula__item").distinct().order_by("pk")
