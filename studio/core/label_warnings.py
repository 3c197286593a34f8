"""What the warning on a candle says in each market, in this studio's own sentences, and the standard it answers to.

The standards are not free and were not read: what they ask for is from memory and from published notices about them,
so every page that shows these words says to hold them against the standard. Neither the standards' own wording nor
their pictograms are here. ASTM F2058 asks for the safety alert symbol, the word WARNING and three messages (burn within
sight, away from what catches fire, away from children); EN 15494 asks for more by the kind of candle.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class UsualWarning:
    """The usual words of a market, one sentence a line, and what they answer to."""

    standard: str
    sentences: tuple[str, ...]
    besides: str

    @property
    def words(self) -> str:
        """The sentences as one text."""
        return " ".join(self.sentences)


HEADING = "WARNING"
MEMORY = "from memory; its text is not free, so check the words against the standard"
USUAL = {
    "us": UsualWarning(
        "ASTM F2058",
        (
            "Burn only where you can see it.",
            "Keep away from anything that can catch fire.",
            "Keep away from children and pets.",
        ),
        "The label stands on the unit of sale, in sight at purchase and uncovered.",
    ),
    "eu": UsualWarning(
        "EN 15494",
        (
            "Burn only where you can see it.",
            "Keep away from anything that can catch fire.",
            "Keep away from children and pets.",
            "Stand it upright on a level surface that heat cannot harm, out of draughts.",
            "Leave room between burning candles.",
            "Trim the wick before lighting; keep the melted wax free of matches and wick ends.",
        ),
        "The standard also has pictograms, some of them required. None are printed here; where they are "
        "required, put them on as well.",
    ),
}
# Great Britain designates EN 15494 as well (from memory), so its warning is the Union's.
USUAL["gb"] = USUAL["eu"]


PARAPHRASE = (
    "These words came with the program. They are a paraphrase, written from memory after {standard}; they are not the "
    "standard's text. Read them against the standard before the first label is printed."
)


def usual_of(market: str) -> UsualWarning:
    """The usual words of a market; the European ones where a market has none of its own."""
    return USUAL.get(market, USUAL["eu"])


def paraphrase_of(market: str) -> str:
    """That the words brought along are a paraphrase and of what, as sentences."""
    return PARAPHRASE.format(standard=usual_of(market).standard)


def warning_words(market: str, own: str = "") -> str:
    """The warning without its heading: the studio's own words, or the usual ones of its market."""
    return own.strip() or usual_of(market).words


def standard_of(market: str, own: str = "") -> str:
    """Whose words the warning is and what to hold it against, as a sentence."""
    usual = usual_of(market)
    if own.strip():
        return f"The studio's own words. Hold them against {usual.standard}, the market's standard."
    return f"Written after {usual.standard} ({MEMORY})."
