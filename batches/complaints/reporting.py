"""Whose law may want a dangerous candle or an accident reported, and where it says so: a reminder, never advice.

The sentences are our own. Read: Regulation (EU) 2023/988, Article 20 (gesetze.legal/eu/vo_eu_2023_988/20);
SI 2005/1803, regulation 9 (en.wikisource.org); 16 CFR 1115.14 in part (ecfr.io). From memory: the wording of Article 9(8),
the 24 hours of 16 CFR 1115.14(e), regulation 9's "forthwith", and that Northern Ireland follows the Union. No day is
worked out by which it must be done at the latest: whoever has read of such a day waits for it.
"""

from dataclasses import dataclass

from studio.models import Market


@dataclass(frozen=True)
class Duty:
    """What the law of a market asks about reporting, in sentences, and where they stand; `notice` is of recall notices."""

    market: Market
    place: str
    law: str
    says: tuple[str, ...]
    whom: str
    notice: str


DUTIES = (
    Duty(
        Market.EU,
        "European Union and Northern Ireland",
        "Regulation (EU) 2023/988",
        (
            "Article 20: an accident caused by a product, in which somebody died or their health was seriously harmed, "
            "lastingly or for a time, is reported by the manufacturer without undue delay through the Safety Business "
            "Gateway, to the state in which it happened.",
            "Article 9: a manufacturer who has reason to believe that a product is dangerous acts at once and reports "
            "it through the Safety Business Gateway, even where nobody was hurt.",
        ),
        "the market surveillance authority",
        "What a recall notice has to say stands in Article 36 of Regulation (EU) 2023/988: which product, what the "
        "danger is without playing it down, what to do, what one gets, where to ask",
    ),
    Duty(
        Market.GB,
        "Great Britain",
        "General Product Safety Regulations 2005 (SI 2005/1803)",
        (
            "Regulation 9: a producer or distributor who knows that a product on the market is not safe tells an "
            "enforcement authority at once, in writing, of the risk and of what was done about it.",
        ),
        "local Trading Standards",
        "The General Product Safety Regulations 2005 give no fixed words for a recall notice; PAS 7100 is a code of "
        "practice, and local Trading Standards advise",
    ),
    Duty(
        Market.US,
        "United States",
        "16 CFR 1115 (Consumer Product Safety Act, section 15(b))",
        (
            "A manufacturer or seller reports to the Consumer Product Safety Commission within 24 hours of obtaining "
            "reportable information: that a product may have a defect that could create a substantial hazard, or may "
            "create an unreasonable risk of serious injury or death. The cause need not be known.",
        ),
        "the Consumer Product Safety Commission",
        "16 CFR 1115.27 lists what a recall notice says where one is ordered; a voluntary one is agreed with the "
        "Consumer Product Safety Commission before it goes out",
    ),
)


def notice_rule(market: str) -> str:
    """Where it stands what a recall notice has to say in a market, as a sentence."""
    return f"{duties(market)[0].notice} (from memory; read it, or ask the authority)."


def duties(market: str) -> list[Duty]:
    """The duties of every market known, those of the studio's own first."""
    return sorted(DUTIES, key=lambda duty: duty.market != market)
