"""From a lot of finished goods to the texts of its labels."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from batches.models import Batch, FormulaVersion
from batches.paper.jar_label import JarLabel
from batches.paper.net_label import NetLabel, least_height_um, net_label
from inventory.labels.sheets import Layout
from inventory.models import Grade, Lot
from studio.label_warnings import HEADING, standard_of, warning_words
from studio.models import Studio

ELSEWHERE = "Read the warning label on this candle."


class What(StrEnum):
    """Which labels are printed for one unit."""

    TOGETHER = "together"
    APART = "apart"
    WARNING = "warning"
    FRONT = "front"


@dataclass(frozen=True)
class JarTexts:
    """Everything that the labels of a lot may say, for the page too. `words` are the version's own."""

    lot: Lot
    batch: Batch
    version: FormulaVersion
    net: NetLabel | None
    declared_ug: int
    warning: str
    standard: str
    words: str
    maker: str
    place: str
    market: str


def jar_texts(lot: Lot, batch: Batch, studio: Studio) -> JarTexts:
    """What the labels of a lot of a batch say. `net` is None where the version declares no weight."""
    version = batch.version
    declared = version.declared_ug or version.fill_ug or 0
    return JarTexts(
        lot=lot,
        batch=batch,
        version=version,
        net=net_label(declared, studio.market) if declared else None,
        declared_ug=declared,
        warning=warning_words(studio.market, studio.warning_words),
        standard=standard_of(studio.market, studio.warning_words),
        words=version.label_words.strip(),
        maker="" if _names(studio) else studio.name,
        place=studio.address.strip(),
        market=studio.market,
    )


def _names(studio: Studio) -> bool:
    """Whether the place on labels begins with the studio's name already."""
    words = " ".join(studio.address.split()).casefold()
    name = " ".join(studio.name.split()).casefold()
    return words == name or words.startswith((f"{name} ", f"{name},"))


def labels_of(texts: JarTexts, what: What, layout: Layout) -> list[JarLabel]:
    """The labels of one unit, in the order they are printed."""
    front, warning = _front(texts, layout), _warning(texts)
    if what == What.WARNING:
        return [JarLabel(**(_codes(texts) | warning))]
    if what == What.TOGETHER:
        return [JarLabel(**(front | warning))]
    apart = JarLabel(**front, elsewhere=ELSEWHERE)
    return [apart] if what == What.FRONT else [apart, JarLabel(**(_codes(texts) | warning))]


def _front(texts: JarTexts, layout: Layout) -> dict[str, Any]:
    seconds = ", seconds" if texts.lot.grade == Grade.SECOND else ""
    panel = layout.label_width_um * layout.label_height_um
    return _codes(texts) | {
        "product": f"{texts.lot.item.name}{seconds}",
        "net": texts.net.words if texts.net else "",
        "net_height_um": least_height_um(texts.declared_ug, texts.market, panel),
    }


def _codes(texts: JarTexts) -> dict[str, Any]:
    return {
        "batch_code": texts.batch.code,
        "lot_code": texts.lot.code,
        "maker": texts.maker,
        "place": texts.place,
    }


def _warning(texts: JarTexts) -> dict[str, Any]:
    return {"heading": HEADING, "warning": texts.warning, "words": texts.words}
