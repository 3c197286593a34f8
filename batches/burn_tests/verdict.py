"""What a burn test says of the design it tested: whether it speaks for it, what it lacks, and on whose word it passed.

The one place that answers this; an approval asks here.
"""

from dataclasses import dataclass

from batches.burn_tests.record import record_of, with_readings
from batches.models import BurnTest

SENTENCES_AT_MOST = 3


@dataclass(frozen=True)
class Verdict:
    """`speaks` for the design: it passed, and either nothing was missing or the owner accepted what was.

    `hours` says how long it burned of what was expected; `lacking` what it did not show, in sentences, the first few;
    `owners_word` by whom and why it was passed all the same, in a sentence; `struck` which readings beyond a limit were
    struck out. Empty where there is nothing to say.
    """

    speaks: bool
    hours: str
    lacking: str = ""
    owners_word: str = ""
    struck: str = ""


def verdict_of(test: BurnTest) -> Verdict:
    """What a test says, by all its readings. As many queries for a long test as for a short one."""
    return verdict_from(with_readings(BurnTest.objects.filter(pk=test.pk)).get())


def verdict_from(test: BurnTest) -> Verdict:
    """What a test says that was read with its readings."""
    record = record_of(test)
    passed = test.state == BurnTest.State.PASSED
    against = record.judgement.against
    return Verdict(
        speaks=passed and (not against or bool(test.accepted_because)),
        hours=record.hours_words,
        lacking=_few(against),
        owners_word=owners_word_of(test),
        struck=_few(record.judgement.struck),
    )


def owners_word_of(test: BurnTest) -> str:
    """By whom and why a test was passed although its readings did not speak for it; empty where they did. No queries
    where the one who decided was read with it."""
    if not test.accepted_because:
        return ""
    lacked = _few(tuple(test.lacked.split("\n")))
    because = test.accepted_because.rstrip(". ")
    return f"Burn test {test.pk} was passed by {test.decided_by} on the owner's word: {because}. {lacked}"


def _few(sentences: tuple[str, ...]) -> str:
    """The first few sentences, and how many more there are."""
    more = len(sentences) - SENTENCES_AT_MOST
    said = " ".join(sentences[:SENTENCES_AT_MOST])
    return f"{said} And {more} more." if more > 0 else said
