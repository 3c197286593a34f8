"""What comes back again and again: complaints by product and by lot, for every thousand that were sent."""

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Count

from batches.chance import wilson
from batches.complaints import units_had
from batches.models import Batch, Complaint, Outcome
from inventory.models import Item, Lot

# Below so many sent, a count for every thousand says more than there is to say.
SENT_ENOUGH = 100


@dataclass(frozen=True)
class Pattern:
    """So many complaints about something of which so many units were sent.

    `per_thousand` is None where too few were sent, or fewer than were complained of; `low` and `high` are the interval of
    95 % about it.
    """

    subject: Item | Lot | Batch
    complaints: int
    sent: int

    @property
    def per_thousand(self) -> Fraction | None:
        """Complaints for every thousand units sent."""
        told = self.sent >= max(SENT_ENOUGH, self.complaints)
        return Fraction(self.complaints * 1000, self.sent) if told else None

    @property
    def low(self) -> float:
        """The lower end, for every thousand."""
        return 1000 * wilson(self.complaints, self.sent)[0]

    @property
    def high(self) -> float:
        """The upper end, for every thousand."""
        return 1000 * wilson(self.complaints, self.sent)[1]

    @property
    def says(self) -> str:
        """What must be known about the figure: few units, few complaints; empty where nothing must."""
        if self.complaints > self.sent:
            return "more than the books say were sent"
        if self.sent < SENT_ENOUGH:
            return f"only {self.sent} sent: too few for a rate"
        return "a handful: it may be chance" if self.complaints < 5 else ""


def by_product() -> list[Pattern]:
    """Every product with a complaint, the one with most for every thousand first; a few queries."""
    counts = dict(Complaint.objects.order_by().values_list("item").annotate(Count("pk")))
    had = units_had.by_item(counts)
    items = Item.objects.in_bulk(list(counts))
    return _sorted(Pattern(items[pk], count, had[pk]) for pk, count in counts.items())


def by_lot() -> list[Pattern]:
    """Every lot, or batch where the lot is not known, with a complaint."""
    known = Complaint.objects.order_by()
    of_lots = dict(known.exclude(lot=None).values_list("lot").annotate(Count("pk")))
    of_batches = dict(known.filter(lot=None).exclude(batch=None).values_list("batch").annotate(Count("pk")))
    made = Outcome.objects.standing().filter(batch__in=of_batches).exclude(lot=None).order_by()
    made_by = dict(made.values_list("lot", "batch"))
    had = units_had.by_lot({*of_lots, *made_by})
    lots = Lot.objects.select_related("item").in_bulk(list(of_lots))
    batches = Batch.objects.with_product().in_bulk(list(of_batches))
    found = [Pattern(lots[pk], count, had[pk]) for pk, count in of_lots.items()]
    of_batch = dict.fromkeys(of_batches, 0)
    for lot_id, batch_id in made_by.items():
        of_batch[batch_id] += had[lot_id]
    found += [Pattern(batches[pk], count, of_batch[pk]) for pk, count in of_batches.items()]
    return _sorted(found)


def _sorted(patterns: Iterable[Pattern]) -> list[Pattern]:
    return sorted(patterns, key=lambda each: (-(each.per_thousand or 0), -each.complaints, each.subject.pk))
