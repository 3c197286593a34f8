"""What a customer is told when goods are called back: a letter and a short message, to copy.

What a recall notice has to say follows Regulation (EU) 2023/988, Article 36 (from memory): that it is a product safety
recall, which product, what the hazard is in words that do not play it down, what to do, what one gets, and where to ask.
The sentences are our own.
"""

from collections.abc import Sequence
from dataclasses import dataclass

ADVICE = (
    "Do not light the candle any more. Put it out if it burns and let it cool. Then write or call us: we send a "
    "replacement or give your money back, as you like, and tell you how to send the candle back at our cost."
)

# What stands in every text and table that a drill makes, so that nobody who finds one takes it for a recall.
DRILL = "DRILL"
DRILL_FIRST = (
    f"{DRILL}: practice only, do not send. If this reached you, it was sent by mistake. This is not a recall."
)
DRILL_LAST = f"{DRILL}: end of a practice letter. This is not a recall."


@dataclass(frozen=True)
class Article:
    """What somebody got: the product, the code on the jar, how much as text, and the day it was sent."""

    product: str
    code: str
    quantity: str
    sent: str


@dataclass(frozen=True)
class Letter:
    """A letter and a message, both finished; `to` is whom it is for, `reach` how they are reached."""

    to: str
    reach: str
    subject: str
    letter: str
    message: str


def letter_of(
    *,
    studio: str,
    address: str,
    to: str,
    greeting: str,
    reach: str,
    articles: Sequence[Article],
    why: str,
    advice: str,
    day: str,
    is_drill: bool = False,
) -> Letter:
    """The letter to one customer. `why` says what is wrong, `advice` what to do and what they get; a `greeting` of ""
    is for people nobody knows by name. Every text of a drill begins with the word, and the letter ends with it."""
    lines = [
        f"  {each.quantity} × {each.product}, code on the jar {each.code}, sent {each.sent}"
        for each in articles
    ]
    products = ", ".join(dict.fromkeys(each.product for each in articles))
    codes = ", ".join(dict.fromkeys(each.code for each in articles))
    sender = address if address.casefold().startswith(studio.casefold()) else f"{studio}\n{address}".strip()
    subject = f"Product safety recall: {products}"
    letter = "\n".join(
        [
            *([DRILL_FIRST, "", f"{DRILL}: {subject}"] if is_drill else [subject]),
            day,
            "",
            greeting or "To everybody who bought one of these candles,",
            "",
            "You got candles from us that we must ask you not to use:",
            *lines,
            "",
            f"What is wrong: {why}",
            "",
            f"What to do: {advice or ADVICE}",
            "",
            "Please answer even if the candles are burned already or given away: tell us how many, and to whom. If you "
            "sold them on, take what is left off the shelf and pass this on to everybody you sold one to.",
            "",
            "We are sorry, and thank you for your help.",
            "",
            sender,
            *(["", DRILL_LAST] if is_drill else []),
        ]
    )
    message = (
        f"{DRILL_FIRST + ' ' if is_drill else ''}Product safety recall by {studio}: {products}, code {codes}. {why} "
        f"{advice or ADVICE} "
        "Please answer even if it is burned already."
    )
    return Letter(to, reach, f"{DRILL}: {subject}" if is_drill else subject, letter, message)
