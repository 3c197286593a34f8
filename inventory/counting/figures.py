"""What counts say: each line against the books, which class an item falls into, and what is due for counting.

The book figure of a line is what the lot held at the moment it was looked at, by every movement known by now that
happened up to then. So a draw between the look and the posting does no harm, and neither does one that is entered
late. Once a count is in the books, its movements say what it found.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction

from django.db.models import DateTimeField, Exists, Max, OuterRef, Subquery, Sum
from django.utils import timezone

from inventory.counting import rules as count_rules
from inventory.ledger.books import carried
from inventory.models import Count, CountClass, CountLine, Item, Lot, Movement
from inventory.querysets import CountLineQuerySet, sum_of
from studio.core.days import begin

YEAR_DAYS = count_rules.DAYS_IN_A_YEAR


@dataclass(frozen=True)
class Finding:
    """One line of a count as it stands now. In base units; `value` in millionths, what the difference is worth.

    `book` is None while nobody looked; so are `difference` and `value`. A find is worth nothing, since nothing was
    paid for it; what is missing takes its share of the lot's value along.
    """

    line: CountLine
    book: int | None = None
    difference: int | None = None
    value: int | None = None

    @property
    def is_counted(self) -> bool:
        """Whether somebody looked."""
        return self.line.counted is not None

    @property
    def is_beyond(self) -> bool:
        """Whether the difference is above the tolerance."""
        line = self.line
        if line.counted is None or self.book is None or line.tolerance_ppm is None:
            return False
        return count_rules.beyond(line.counted, self.book, line.tolerance_ppm)

    @property
    def must_look_again(self) -> bool:
        """Whether the lot is to be counted a second time before the count is posted."""
        return self.is_beyond and not self.line.looked_twice

    @property
    def needs_reason(self) -> bool:
        """Whether a reason for the difference is still missing."""
        return bool(self.difference) and self.line.reason_id is None

    @property
    def off_ppm(self) -> Fraction | None:
        """The difference as a share of the book figure; None where the books held nothing."""
        if self.line.counted is None or self.book is None:
            return None
        return count_rules.off_ppm(self.line.counted, self.book)

    @property
    def was_empty(self) -> bool:
        """Whether something was found of a lot that was empty by the books."""
        return self.book == 0 and bool(self.difference)

    @property
    def state(self) -> tuple[str, str]:
        """Tone and word."""
        if not self.is_counted:
            return "plain", "To count"
        if not self.difference:
            return "good", "Agrees"
        if not self.is_beyond:
            return "good", "Within tolerance"
        return ("problem", "Look again") if self.must_look_again else ("attention", "Differs")


def findings(count: Count) -> list[Finding]:
    """Every line of a count with its figures, in the order of the shelf. One query."""
    lines = count.lines.select_related("lot__item", "by", "reason").by_place()
    if count.state == Count.State.POSTED:
        return [_as_posted(line) for line in with_moved(lines)]
    return [_as_known(line) for line in with_book(lines)]


def with_book(lines: CountLineQuerySet) -> CountLineQuerySet:
    """With `book`, what each lot held when it was looked at, in base units."""
    until = Movement.objects.filter(lot=OuterRef("lot"), posting__happened_at__lte=OuterRef("counted_at"))
    return lines.annotate(book=sum_of(until, "quantity", of="lot"))


def with_moved(lines: CountLineQuerySet) -> CountLineQuerySet:
    """With `moved` and `moved_value`, what the count's own posting put right on each lot."""
    own = Movement.objects.filter(
        lot=OuterRef("lot"), posting=OuterRef("count__posting"), kind=Movement.Kind.COUNTED
    )
    return lines.annotate(moved=sum_of(own, "quantity", of="lot"), moved_value=sum_of(own, "value", of="lot"))


def _as_known(line: CountLine) -> Finding:
    if line.counted is None:
        return Finding(line)
    book: int = line.book  # type: ignore[attr-defined]  # annotated by with_book
    difference = line.counted - book
    return Finding(line, book, difference, -carried(line.lot, -difference) if difference < 0 else 0)


def _as_posted(line: CountLine) -> Finding:
    if line.counted is None:
        return Finding(line)
    moved: int = line.moved  # type: ignore[attr-defined]  # annotated by with_moved
    return Finding(line, line.counted - moved, moved, line.moved_value)  # type: ignore[attr-defined]


@dataclass(frozen=True)
class Tally:
    """A count in figures; `value` is what all differences together are worth, in millionths."""

    lots: int
    counted: int
    within: int
    differing: int
    look_again: int
    unexplained: int
    value: int

    @property
    def not_counted(self) -> int:
        """Lots nobody looked at."""
        return self.lots - self.counted

    @property
    def accuracy(self) -> Fraction | None:
        """The share of the lots counted that were within their tolerance; None before the first."""
        return Fraction(self.within, self.counted) if self.counted else None


def tally(found: Iterable[Finding]) -> Tally:
    """Add up the lines of a count."""
    found = list(found)
    return Tally(
        lots=len(found),
        counted=sum(each.is_counted for each in found),
        within=sum(each.is_counted and not each.is_beyond for each in found),
        differing=sum(bool(each.difference) for each in found),
        look_again=sum(each.must_look_again for each in found),
        unexplained=sum(each.needs_reason for each in found),
        value=sum(each.value or 0 for each in found),
    )


def tallies(counts: Sequence[Count]) -> list[tuple[Count, Tally]]:
    """Several counts, each with its figures. Two queries for any number."""
    posted = [count.pk for count in counts if count.state == Count.State.POSTED]
    others = [count.pk for count in counts if count.state != Count.State.POSTED]
    found: dict[int, list[Finding]] = {count.pk: [] for count in counts}
    lines = CountLine.objects.select_related("lot")
    for line in with_moved(lines.filter(count__in=posted)):
        found[line.count_id].append(_as_posted(line))
    for line in with_book(lines.filter(count__in=others)):
        found[line.count_id].append(_as_known(line))
    return [(count, tally(found[count.pk])) for count in counts]


class Classes:
    """The class of every item on a day, by what was used of it in the year before."""

    def __init__(self, rules: Sequence[CountClass], values: Iterable[tuple[int, int]]) -> None:
        self.rules = {rule.letter: rule for rule in rules}
        self.values = dict(values)
        self._last = rules[-1]
        cuts = [count_rules.Cut(rule.letter, rule.share_ppm) for rule in rules]
        self._letters = count_rules.classify(self.values.items(), cuts)

    def of(self, item_id: int) -> CountClass:
        """The class of an item; the last one for what was not used."""
        letter = self._letters.get(item_id)
        return self.rules[letter] if letter else self._last


def classes(day: date) -> Classes:
    """The classes on a day: by the value of what was drawn and sent out in the 365 days up to it. Two queries."""
    first = begin(day - timedelta(days=YEAR_DAYS - 1))
    used = Movement.objects.standing().filter(
        kind__in=(Movement.Kind.DRAWN, Movement.Kind.DISPATCHED), posting__happened_at__gte=first
    )
    rows = used.order_by().values_list("lot__item").annotate(worth=Sum("value"))
    return Classes(list(CountClass.objects.all()), [(item_id, -worth) for item_id, worth in rows])


@dataclass(frozen=True)
class CountStatus:
    """An item's place in counting: its class, and when it was last counted.

    `last` is the day of its latest look, or earlier where a lot that stood on the shelf then was passed over: the day
    that lot was looked at, or came. None when the item was never counted. `year_value` is what was used of it in a
    year, in millionths.
    """

    item: Item
    rule: CountClass
    last: date | None
    lots: int
    year_value: int

    @property
    def due_on(self) -> date | None:
        """The day it is due; None, so at once, when it was never counted."""
        return count_rules.due_on(self.last, self.rule.times_a_year)

    def is_due(self, on: date) -> bool:
        """Whether it is due on a day."""
        return count_rules.is_due(self.last, self.rule.times_a_year, on)


def standings(known: Classes) -> list[CountStatus]:
    """Every item with something on the shelf that is not being counted now, by class and name. Two queries."""
    looks = CountLine.objects.standing().order_by()
    of_lot = looks.filter(lot=OuterRef("pk")).values("lot").annotate(at=Max("counted_at")).values("at")
    of_item: dict[int, datetime] = dict(looks.values_list("lot__item").annotate(at=Max("counted_at")))
    lots = Lot.objects.on_shelf().filter(~Exists(_being_counted())).select_related("item").order_by("pk")
    shelf: dict[int, list[Lot]] = {}
    for lot in lots.annotate(looked_at=Subquery(of_lot, output_field=DateTimeField())):
        shelf.setdefault(lot.item_id, []).append(lot)
    found = [
        CountStatus(
            item=held[0].item,
            rule=known.of(item_id),
            last=_last_counted(held, of_item.get(item_id)),
            lots=len(held),
            year_value=max(known.values.get(item_id, 0), 0),
        )
        for item_id, held in shelf.items()
    ]
    return sorted(found, key=lambda each: (each.rule.letter, each.item.name.lower()))


def _being_counted() -> CountLineQuerySet:
    return CountLine.objects.filter(lot=OuterRef("pk"), count__state=Count.State.OPEN)


def _last_counted(held: Iterable[Lot], latest: datetime | None) -> date | None:
    """The day an item counts as counted, from its lots on the shelf and the latest look at any lot of it."""
    if latest is None:
        return None
    # A lot that came since is younger than the latest look and changes nothing.
    there = [lot.looked_at or lot.arrived_at for lot in held]  # type: ignore[attr-defined]  # annotated
    return timezone.localtime(min([latest, *there])).date()


def due(day: date) -> list[CountStatus]:
    """The items due for counting on a day, by class and name."""
    return [each for each in standings(classes(day)) if each.is_due(day)]
