"""From a recall as it stands to the letter and the message for one customer."""

from datetime import datetime

from django.utils import timezone

from batches.models import RecallSent
from batches.recalls.letters import Article, Letter, letter_of
from batches.recalls.progress import PartyProgress
from batches.recalls.report_text import batch_code, reach_of
from inventory.models import Customer
from studio.models import Studio, User
from studio.web.pdf import grouped

DAYS_NAMED = 3


def letter_to(each: PartyProgress, *, studio: Studio, by: User, now: datetime) -> Letter:
    """What one customer is told, as far as this person may know who it is."""
    customer, recall = each.party.customer, each.party.recall
    known = customer if customer and not customer.erased_at else None
    return letter_of(
        studio=studio.name,
        address=studio.address,
        to=known.display_name(by) if known else "",
        greeting=_greeting(known, by) if known else "",
        reach=reach_of(each, by),
        articles=_articles(each),
        why=recall.why,
        advice=recall.advice,
        day=_long_day(now),
        is_drill=recall.is_drill,
    )


def _greeting(customer: Customer, by: User) -> str:
    """A person by name, a shop's or a market's by whom to ask for, else all who got candles there."""
    called = customer.display_name(by)
    if customer.is_person:
        return f"Dear {called},"
    if customer.contact and by.makes:
        return f"Dear {customer.contact},"
    return f"To {called}, and to everybody who got one of these candles there,"


def _articles(each: PartyProgress) -> list[Article]:
    """What somebody got, a line for each code on a jar."""
    codes: dict[str, list[RecallSent]] = {}
    for sent in each.sent:
        codes.setdefault(batch_code(sent.lot) or sent.lot.code, []).append(sent)
    return [
        Article(
            str(rows[0].lot.item),
            grouped(code),
            rows[0].lot.item.quantity(sum(row.quantity for row in rows)),
            days_words([_long_day(row.sent_at) for row in rows]),
        )
        for code, rows in codes.items()
    ]


def days_words(days: list[str]) -> str:
    """Days in a sentence, each once: three by name, of more the first two and how many others."""
    named = list(dict.fromkeys(days))
    more = len(named) - DAYS_NAMED
    if more > 0:
        named = [*named[: DAYS_NAMED - 1], f"{more + 1} other days"]
    return " and ".join(filter(None, (", ".join(named[:-1]), named[-1])))


def _long_day(moment: datetime) -> str:
    local = timezone.localtime(moment)
    return f"{local.day} {local:%B %Y}"
