"""The counts of the demonstration: most lots agree, a few are a little off, and a slip is caught by a second look.

Chance comes from a generator of its own, so that counting changes nothing else of the story.
"""

from datetime import timedelta
from random import Random

from inventory.counting import counting
from inventory.counting.counting import Look
from inventory.counting.figures import Finding, classes, findings, standings
from inventory.models import Count, CountLine, Reason
from studio.core.quantities import Dimension
from studio.demonstration.goods import G
from studio.demonstration.work import Workshop
from studio.people.signature import Signature

# What the script needs to the gram: scents that run dry, expire or are tried out.
LEFT_ALONE = ("quince", "fig", "hay", "uv")
ONE_IN, SLIP_ONE_IN = 9, 60  # lots that are off, and lots first keyed wrongly
# What a scale or an eye tells apart, in base units.
STEP = {Dimension.MASS: G, Dimension.COUNT: 1, Dimension.LENGTH: 10_000}
WORDS_WEIGHED = (
    "Weighed out and not written down",
    "Left in the container",
    "Spilled and not written down",
    "Cause not known",
)
WORDS_COUNTED = ("Taken from the wrong lot", "Miscounted earlier", "Cause not known")
WORDS_MORE = ("Miscounted earlier", "Taken from the wrong lot")
FIRST_MINUTE = 6 * 60 + 20


class ShelfCounts:
    """Counts on days of the story, before anybody weighs up."""

    def __init__(self, shop: Workshop, seed: int) -> None:
        self.shop = shop
        self.rng = Random(seed + 100)  # noqa: S311 — a story, not a secret
        self.reasons = {reason.words: reason for reason in Reason.objects.filter(kind=Reason.Kind.COUNT)}
        self._alone: set[int] = set()

    def everything(self) -> None:
        """The whole shelf, as for the yearly books."""
        self._carry_out(Count.Scope.EVERYTHING)

    def dear_ones(self) -> None:
        """The items of class A, counted blind."""
        rows = [each for each in standings(classes(self.shop.day)) if each.rule.letter == "A"]
        if rows:
            self._carry_out(Count.Scope.CLASS, "A", [each.item.pk for each in rows], blind=True)

    def what_is_due(self) -> None:
        """Of classes B and C whatever is due."""
        for letter in ("B", "C"):
            rows = [each for each in standings(classes(self.shop.day)) if each.rule.letter == letter]
            due = [each.item.pk for each in rows if each.is_due(self.shop.day)]
            if due:
                self._carry_out(Count.Scope.CLASS, f"{letter}, what was due", due)

    def packaging_shelf(self) -> None:
        """One place, because somebody wondered about the boxes."""
        box = self.shop.items["box_jar"]
        self._carry_out(Count.Scope.PLACE, box.place)

    def half_counted(self, begun: Signature) -> None:
        """A blind count of class B, begun a while ago; the maker has got half-way."""
        items = [each.item.pk for each in standings(classes(self.shop.today)) if each.rule.letter == "B"]
        if not items:
            return
        count = counting.start(scope=Count.Scope.CLASS, of="B", item_ids=items, blind=True, signature=begun)
        lines = list(_lines(count))
        later = begun.recorded_at + timedelta(minutes=6)
        half = lines[: max(len(lines) // 2, 1)]
        # One is so far off that it is to be looked at again before the count is posted.
        looks = [self._weighed(line, lost=line is half[-1]) for line in half]
        counting.count_lots(count.pk, looks, signature=Signature(self.shop.people.maker, later, later))

    def _carry_out(
        self, scope: Count.Scope, of: str = "", item_ids: list[int] | None = None, *, blind: bool = False
    ) -> None:
        """Start, look at every lot place by place, look again where it is far off, give reasons and post."""
        shop, people = self.shop, self.shop.people
        try:
            count = counting.start(
                scope=scope,
                of=of,
                item_ids=item_ids,
                blind=blind,
                signature=shop.sign(people.owner, FIRST_MINUTE),
            )
        except counting.CannotCount:
            return
        lines = list(_lines(count))
        looks = [self._look(line) for line in lines]
        for number in range(0, len(looks), 12):
            minute = FIRST_MINUTE + 5 + number // 4
            signature = shop.sign(people.maker, min(minute, 7 * 60 + 15))
            counting.count_lots(count.pk, looks[number : number + 12], signature=signature)
        again = [self._again(each) for each in findings(count) if each.must_look_again]
        if again:
            counting.count_lots(count.pk, again, signature=shop.sign(people.owner, 7 * 60 + 20))
        differing = [each for each in findings(count) if each.difference]
        signature = shop.sign(people.owner, 7 * 60 + 25)
        counting.explain(
            count.pk, {each.line.pk: (self._why(each), "") for each in differing}, signature=signature
        )
        counting.post(count.pk, signature=signature)

    def _look(self, line: CountLine, seen: int | None = None) -> Look:
        """What is found: mostly what the books hold, now and then a little less, rarely something else altogether."""
        held, step = line.lot.on_hand, STEP[line.lot.item.dimension]
        found = held
        if line.lot.item_id not in self._left_alone() and self.rng.randrange(ONE_IN) == 0:
            most = max(held // 90 // step, 1)
            off = self.rng.randint(1, most) * step
            found = held + off if self.rng.randrange(5) == 0 else max(held - off, 0)
        if seen is None and self.rng.randrange(SLIP_ONE_IN) == 0:
            found = held // 10  # a nought left out
        return self._as_look(line, found, seen)

    def _again(self, each: Finding) -> Look:
        """The second look: what is really there, the slip gone."""
        line = each.line
        off = each.book is not None and line.counted is not None and line.counted * 5 < each.book
        return self._as_look(line, line.lot.on_hand if off else line.counted or 0, line.counted)

    def _weighed(self, line: CountLine, *, lost: bool) -> Look:
        """A container put on the scale as it stands, where it is something to be weighed; some of it may be lost."""
        lot = line.lot
        there = lot.on_hand - lot.on_hand // 12 if lost else lot.on_hand
        if lot.item.dimension is not Dimension.MASS:
            return self._as_look(line, there, None)
        tare = lot.tare_ug or 412 * G
        gross = max(there - self.rng.choice((0, 0, 2, 3)) * G, 0) + tare
        return Look(lot.pk, gross - tare, lot.item.quantity(gross), gross_ug=gross, tare_ug=tare)

    def _as_look(self, line: CountLine, found: int, seen: int | None) -> Look:
        return Look(line.lot_id, found, line.lot.item.quantity(found), seen=seen)

    def _left_alone(self) -> set[int]:
        if not self._alone:
            names = (self.shop.items[key].pk for key in LEFT_ALONE)
            self._alone = {*names, *(product.item.pk for product in self.shop.products.values())}
        return self._alone

    def _why(self, each: Finding) -> Reason:
        weighed = each.line.lot.item.dimension is Dimension.MASS
        less = WORDS_WEIGHED if weighed else WORDS_COUNTED
        return self.reasons[self.rng.choice(WORDS_MORE if (each.difference or 0) > 0 else less)]


def _lines(count: Count) -> list[CountLine]:
    return list(count.lines.select_related("lot__item").by_place())
