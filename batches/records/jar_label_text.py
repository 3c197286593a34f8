"""From a lot of finished goods to the texts of its labels."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.utils import timezone

from batches.formulas.hazard_labels import CLP_MARKETS, HazardStanding
from batches.models import Batch, FormulaVersion
from batches.records.jar_label_pdf import JarLabel
from batches.records.net_label import NetLabel, least_height_um, net_label
from inventory.labels.sheets import Layout
from inventory.models import Grade, Lot
from studio.confirmed_warnings import words_to_read
from studio.core.label_warnings import HEADING, standard_of, usual_of
from studio.models import LabelWarning, Studio

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
    telephone: str = ""
    confirmed: LabelWarning | None = None
    hazards: HazardStanding | None = None

    @property
    def under_clp(self) -> bool:
        """Whether the market asks for chemical hazard labeling of a scented candle."""
        return self.market in CLP_MARKETS and bool(self.hazards and self.hazards.is_scented)

    @property
    def hazard_caution(self) -> str:
        """That the labeling is missing or outdated; empty where nothing is known to be wanting or no market asks."""
        return " ".join(self.hazards.cautions(self.market)) if self.hazards else ""

    @property
    def hazard_words(self) -> str:
        """The label elements to print, with the telephone of who supplies; empty where none are on record and current."""
        if self.hazards is None or self.hazards.label is None or not self.hazards.is_current:
            return ""
        words = self.hazards.label.words
        return "\n".join(filter(None, (words, self.telephone))) if words else ""


def jar_texts(
    lot: Lot,
    batch: Batch,
    studio: Studio,
    *,
    confirmed: LabelWarning | None = None,
    hazards: HazardStanding | None = None,
) -> JarTexts:
    """What the labels of a lot of a batch say. `net` is None where the version declares no weight.

    `confirmed` is the warning the owner vouches for in the studio's market; without one the words are those that
    would be confirmed, and nothing is printed. `hazards` are the label elements on record.
    """
    version = batch.version
    declared = version.declared_ug or version.fill_ug or 0
    return JarTexts(
        lot=lot,
        batch=batch,
        version=version,
        net=net_label(declared, studio.market) if declared else None,
        declared_ug=declared,
        warning=words_to_read(studio, confirmed),
        standard=confirmed_words(confirmed)
        if confirmed
        else standard_of(studio.market, studio.warning_words),
        words=version.label_words.strip(),
        maker="" if _names(studio) else studio.name,
        place=studio.address.strip(),
        market=studio.market,
        telephone=studio.telephone.strip(),
        confirmed=confirmed,
        hazards=hazards,
    )


def confirmed_words(confirmed: LabelWarning) -> str:
    """Who vouches for the warning since when, and what to hold it against, as sentences."""
    day = timezone.localtime(confirmed.confirmed_at)
    return (
        f"Confirmed by {confirmed.confirmed_by} on {day.day} {day:%b %Y}. Hold it against "
        f"{usual_of(confirmed.market).standard}, the market's standard."
    )


def _names(studio: Studio) -> bool:
    """Whether the place on labels begins with the studio's name already."""
    words = " ".join(studio.address.split()).casefold()
    name = " ".join(studio.name.split()).casefold()
    return words == name or words.startswith((f"{name} ", f"{name},"))


def labels_of(texts: JarTexts, what: What, layout: Layout, *, with_hazards: bool = False) -> list[JarLabel]:
    """The labels of one unit, in the order they are printed; with the label elements where they are wanted."""
    front, warning = _front(texts, layout), _warning(texts, with_hazards=with_hazards)
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


def _warning(texts: JarTexts, *, with_hazards: bool) -> dict[str, Any]:
    words = "\n".join(filter(None, (texts.words, texts.hazard_words if with_hazards else "")))
    return {"heading": HEADING, "warning": texts.warning, "words": words}
