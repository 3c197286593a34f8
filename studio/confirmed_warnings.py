"""The warning on the label as the studio's owner confirmed it, with name and date; the newest of a market counts.

What the program brings along (`studio.core.label_warnings`) is a paraphrase. It is shown as such and printed on nothing
until the owner has read it against the standard, or put other words in its place, and said so.
"""

from studio.core.label_warnings import usual_of
from studio.models import LabelWarning, Studio
from studio.people.signature import Signature


class NothingToConfirm(Exception):
    """The words are empty. Its text is a sentence for a person."""


def confirmed_warning(market: str) -> LabelWarning | None:
    """What the owner confirmed last for a market; None before that. One query."""
    return LabelWarning.objects.filter(market=market).select_related("confirmed_by").first()


def confirm(market: str, words: str, *, signature: Signature) -> LabelWarning:
    """The owner vouches for the warning's words in a market from now on. Raises NothingToConfirm."""
    words = "\n".join(line.strip() for line in words.strip().splitlines())
    if not words:
        raise NothingToConfirm("A label needs its warning. Enter the words.")
    return LabelWarning.objects.create(
        market=market, words=words, confirmed_by=signature.by, confirmed_at=signature.recorded_at
    )


def words_to_read(studio: Studio, newest: LabelWarning | None) -> str:
    """What the owner is shown to confirm: the words confirmed last, else the studio's own, else the paraphrase."""
    return newest.words if newest else studio.warning_words.strip() or usual_of(studio.market).words
