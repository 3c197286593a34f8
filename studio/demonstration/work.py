"""A workshop that lives through its days: it plans, pours, packs and sells as the screens do."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from batches.models import Batch, FormulaVersion, Labour, Reading
from batches.planning import planning, plans
from batches.production import finishing, runs
from batches.production.releasing import release
from inventory.customers.customers import Contact
from inventory.ledger.reservations import promises_of
from inventory.lots.moving import Taking
from inventory.lots.shelves import shelves
from inventory.models import Dispatch, Grade, Kind, Lot
from inventory.shipments.dispatching import send
from studio.demonstration import goods, story
from studio.demonstration.burns import Burns
from studio.demonstration.endings import Endings
from studio.demonstration.stage import Product, Stage, working_day

KINDS = {"Wholesale": Dispatch.Kind.WHOLESALE, "Event": Dispatch.Kind.EVENT}

# How far the thermometer strays from what the formula asks, in thousandths of a degree.
STRAYS = 1_500
PATIENCE_DAYS = 8
# What cured in these last days still waits to be looked at.
RELEASED_BEFORE = 4


@dataclass
class Run:
    """A batch on the workshop's calendar."""

    batch: Batch
    product: story.ProductStory
    pour_on: date
    pack_on: date
    poured: bool = False
    made: int = 0
    rest: finishing.Result | None = None  # what comes out on the next day


class Workshop(Stage):
    """The stage with a bench: what is planned, poured, packed and sold."""

    def __init__(self, *, seed: int, **stage: Any) -> None:
        super().__init__(seed=seed, **stage)
        self.endings = Endings(seed)
        self.burns = Burns(self, seed)
        self.calendar: list[Run] = []
        self.slip = 0  # base units to be keyed too many on the first wax line of the next pour
        self.slipped: Run | None = None

    def approve(self, product: Product, version: FormulaVersion) -> None:
        """Burn it, where nothing like it was burned, and approve it."""
        self.burns.approve(product, version)

    # Planning

    def plan_the_week(self) -> None:
        """Plan runs of what would sell out within four weeks, as far as they end before today."""
        short = []
        for product in self.products.values():
            if product.story.weekly and not product.story.scripted and not self._starved(product):
                forecast = self._expected(product.story)
                position = self._position(product)
                if position < forecast:
                    short.append((position * 100 // forecast, product))
        days = self._pour_days()
        for (_, product), day in zip(sorted(short, key=lambda each: each[0]), days, strict=False):
            quantity = product.story.run
            if quantity == 100:
                quantity = self.rng.choice((96, 100, 100, 108))
            self.plan(product, quantity, pour_on=day)

    def _starved(self, product: Product) -> bool:
        """Nothing to pour from: no version yet, or a scent that cannot be had and does not last for a run."""
        if product.version is None:
            return True
        paused = {self.items[key].pk for key in self.paused}
        if not paused.intersection(product.version.lines.values_list("item_id", flat=True)):
            return False
        plan = planning.plan_of(product.version, product.story.run, on=self.day)
        return any(need.short for need in plan.needs if need.item.pk in paused)

    def _pour_days(self) -> list[date]:
        """Two runs on Tuesday and Thursday, one on Wednesday, as far as they end before today."""
        days = [self.day + timedelta(days=offset) for offset in (1, 3, 2, 1, 3)]
        return sorted(day for day in days if working_day(day + timedelta(days=2)) < self.today)

    def _expected(self, product: story.ProductStory) -> int:
        ahead = self.percent_on(self.day + timedelta(days=21), product)
        return product.weekly * ahead * 4 // 100

    def _position(self, product: Product) -> int:
        lots = Lot.objects.filter(item=product.item, grade=Grade.FIRST, on_hand__gt=0)
        return sum(lots.values_list("on_hand", flat=True)) + sum(
            run.batch.quantity - run.made for run in self.calendar if run.product.key == product.story.key
        )

    def plan(self, product: Product, quantity: int, *, pour_on: date, note: str = "") -> Run:
        """Plan a run and put it on the calendar, to be packed when it has rested."""
        version = product.current()
        rest = 2 if version.rest_hours == 48 else 1
        batch = plans.plan(
            version,
            quantity,
            planned_on=pour_on,
            note=note,
            signature=self.sign(self.people.owner, 8 * 60 + 20 + len(self.calendar) % 20),
        )
        pack_on = pour_on if product.story.blend_of else working_day(pour_on + timedelta(days=rest))
        run = Run(batch, product.story, pour_on, pack_on)
        self.calendar.append(run)
        return run

    def blend_what_is_low(self) -> None:
        """Make a blend today when less is left than the open runs and about a week need."""
        marks = {"house": 22 * goods.KG, "tides": 800 * goods.G}
        items = {key: self.products[key].item.pk for key in marks}
        on_shelf, promised = shelves(items.values(), self.day), promises_of(items.values())
        for key, mark in marks.items():
            free = sum(lot.on_hand for lot in on_shelf[items[key]])
            free -= sum(each.commitment.quantity for each in promised[items[key]])
            if free < mark * max(self.percent_on(self.day), 80) // 100 and not self._is_planned(key):
                self.plan(self.products[key], self.products[key].story.run, pour_on=self.day)

    def _is_planned(self, key: str) -> bool:
        return any(run.product.key == key for run in self.calendar)

    # Making

    def pour_and_pack(self) -> None:
        """Carry out what the calendar holds for today, blends first."""
        due = [run for run in self.calendar if not run.poured and run.pour_on <= self.day]
        for place, run in enumerate(sorted(due, key=lambda run: not run.product.blend_of)):
            self._pour(run, minute=9 * 60 + 40 + 50 * min(place, 4))
        packing = [
            run for run in self.calendar if run.poured and run.batch.is_open and run.pack_on <= self.day
        ]
        for place, run in enumerate(packing):
            self._pack(run, minute=14 * 60 + 20 * min(place, 5))
        self.calendar = [run for run in self.calendar if run.batch.is_open]

    def _pour(self, run: Run, *, minute: int) -> None:
        """Weigh up, heat, pour; or wait when something is short, and call off what waits too long."""
        drawn = plans.drawn_by_line(run.batch)
        plan = planning.plan_of_batch(run.batch, on=self.day, drawn=drawn)
        if plan.short or any(target.rounds_away for target in plan.sheet.targets):
            self._wait(run, ", ".join(need.item.name for need in plan.short))
            return
        needs = [need for need in plan.needs if need.item.pk not in self.packed_last()]
        self.draw(run, needs, minute)
        self.read(run, minute + 45)
        self._work(run, ("weigh", "pour"))
        run.poured = True
        if run.product.blend_of:
            self._finish(run, minute + 49)

    def packed_last(self) -> set[int]:
        return {self.items[key].pk for key in story.PACKED_LAST}

    def _wait(self, run: Run, missing: str) -> None:
        run.pour_on = working_day(self.day + timedelta(days=1))
        run.pack_on = max(run.pack_on, working_day(run.pour_on + timedelta(days=2)))
        late = (self.day - run.batch.planned_on).days > PATIENCE_DAYS
        if late or run.pack_on >= self.today:
            reason = f"Not enough {missing}; planned again when it is in."
            run.batch = plans.call_off(run.batch.pk, signature=self.sign(self.people.owner, 17 * 60, reason))

    def draw(self, run: Run, needs: Sequence[planning.Need], minute: int) -> None:
        """Draw what is needed as a hand and a scale would: old rests first, a gram over, a wick dropped."""
        on_shelf = shelves({need.item.pk for need in needs}, self.day)
        begun = self.sign(self.people.maker, minute)
        with runs.drawing_into(run.batch.pk, signature=begun) as batch:
            for place, need in enumerate(needs):
                takings = self._takings(run, need, on_shelf[need.item.pk], place)
                signature = self.sign(self.people.maker, minute + 4 * place)
                runs.draw(batch, need.line.pk, takings, signature=signature)
        run.batch.state = batch.state

    def _takings(self, run: Run, need: planning.Need, lots: Sequence[Lot], place: int) -> list[Taking]:
        """Lot after lot, first to expire first, until the need is met with what hand and scale add to it."""
        spare = sum(lot.on_hand for lot in lots) - need.left
        left, takings = need.left + min(self._extra(run, need, place, spare), spare), []
        for lot in lots:
            if taken := min(left, lot.on_hand):
                takings.append(Taking(lot.pk, taken))
                left -= taken
        return takings

    def _extra(self, run: Run, need: planning.Need, place: int, spare: int) -> int:
        division = need.line.version.division_ug
        if not need.is_weighed:
            set_out = need.target.total - run.batch.quantity * need.line.amount
            return -self.rng.randint(0, set_out) if set_out else 0
        if need.item.kind == Kind.WAX:
            if place == 0 and 0 < self.slip <= spare and not run.product.blend_of:
                slip, self.slip, self.slipped = self.slip, 0, run
                return slip
            return division * self.rng.randint(-2, 5)
        return division * self.rng.choice((0, 0, 0, 0, 1, 1, -1)) if need.left > 20 * division else 0

    def read(self, run: Run, minute: int) -> None:
        """The temperatures of a pour; a blend without heat has none."""
        version, kinds = run.batch.version, Reading.Kind
        if version.heat_to_mc is None:
            return
        readings = [(kinds.MELT, version.heat_to_mc, STRAYS)]
        if version.pour_from_mc is not None and version.pour_to_mc is not None:
            middle = (version.pour_from_mc + version.pour_to_mc) // 2
            wide = (version.pour_to_mc - version.pour_from_mc) // 2 + STRAYS // 3
            readings += [
                (kinds.FRAGRANCE, version.fragrance_at_mc or middle, STRAYS),
                (kinds.POUR, middle, wide),
                (kinds.ROOM, 20_500, 2_500),
            ]
        for place, (kind, meant, off) in enumerate(readings):
            temperature = (meant + self.rng.randint(-off, off)) // 500 * 500
            runs.take_reading(
                run.batch.pk,
                kind,
                temperature,
                note="",
                signature=self.sign(self.people.maker, minute + place),
            )

    def _work(self, run: Run, steps: Sequence[str]) -> None:
        """Minutes by step; the owner packs now and then."""
        weigh, pour, finish, pack = run.product.minutes
        tens = 0 if run.product.blend_of else run.batch.quantity
        minutes = {
            "weigh": weigh,
            "pour": pour * tens // 10,
            "finish": finish * tens // 10,
            "label": pack * tens // 10,
        }
        for step in steps:
            if spent := minutes[step] * self.rng.randint(88, 115) // 100:
                person = (
                    self.people.owner
                    if step == "label" and self.rng.randint(1, 4) == 1
                    else self.people.maker
                )
                runs.note_labour(
                    run.batch,
                    person_id=person.pk,
                    step=Labour.Step(step),
                    minutes=spent,
                    worked_on=self.day,
                    signature=self.sign(person, 17 * 60 + 10),
                )

    def _pack(self, run: Run, *, minute: int) -> None:
        """Lids, labels and boxes, then what came out; a day later when something is short."""
        if run.rest:
            self._put_on_shelf(run, run.rest, minute)
            return
        drawn = plans.drawn_by_line(run.batch)
        plan = planning.plan_of_batch(run.batch, on=self.day, drawn=drawn)
        needs = [need for need in plan.needs if need.item.pk in self.packed_last() and need.left]
        if any(need.short for need in needs):
            run.pack_on = working_day(self.day + timedelta(days=1))
            return
        self.draw(run, needs, minute)
        self._work(run, ("finish", "label"))
        self._finish(run, minute + 4 * len(needs))

    def _finish(self, run: Run, minute: int) -> None:
        """What came out, all of it or the part that is ready today."""
        came = self.endings.cooled(run.batch, self._result(run))
        result = self.endings.complete(run.product, came, self.items["again"])
        tomorrow = working_day(self.day + timedelta(days=1))
        halves = self.endings.halves(run.product, result) if tomorrow < self.today else None
        if halves is None:
            self._put_on_shelf(run, result, minute)
            return
        first, run.rest = halves
        finishing.finish(run.batch.pk, first, signature=self.sign(self.people.maker, minute), last=False)
        run.made, run.pack_on = first.good, tomorrow

    def _put_on_shelf(self, run: Run, result: finishing.Result, minute: int) -> None:
        signature = self.sign(self.people.maker, minute)
        looked_at = self.endings.looked_at(run.batch, result)
        finishing.finish(run.batch.pk, looked_at, signature=signature)
        run.batch.refresh_from_db(fields=["state"])
        self.endings.weigh(run.batch, run.product, (self.today - self.day).days, signature)

    def _result(self, run: Run) -> finishing.Result:
        """Nearly all good. A layered pour is harder; a pour too cold leaves rings on the glass."""
        if run.product.blend_of:
            return finishing.Result(
                good=run.batch.quantity - self.rng.randint(20, 60) * run.batch.quantity // 20_000
            )
        made = run.batch.quantity
        risk = 5 if run.product.key == "tides_jar" else 2
        seconds = self.roughly(made * risk)
        scrap = {story.SCRAP_REASONS[self.rng.randrange(6)]: self.roughly(made * risk // 2)}
        window = run.batch.version.pour_from_mc or 0
        if run.batch.readings.filter(kind=Reading.Kind.POUR, temperature_mc__lt=window).exists():
            scrap["Jump lines"] = self.rng.randint(1, 3)
        return finishing.Result(made - seconds - sum(scrap.values()), seconds, scrap)

    def release_what_has_cured(self) -> None:
        """Look at what has cured, its labels and warning labels, and let it go on sale."""
        waiting = Lot.objects.on_shelf().filter(awaits_release=True, held=False)
        signature = self.sign(self.people.owner, 7 * 60)
        for lot in waiting.exclude(ready_on__gt=self.day).order_by("pk"):
            release(
                lot.pk,
                label_right=True,
                warning_on=True,
                unweighed=True,
                despite=story.DESPITE,
                on=self.day,
                signature=signature,
            )

    # Selling

    def sell(
        self, wants: dict[str, int], *, to: str, channel: str, minute: int, seconds: int = 0, reach: str = ""
    ) -> Dispatch | None:
        """Send what is on the shelf and cured of what is wanted, oldest first. None when nothing is."""
        takings = self._take(wants, seconds)
        if not takings:
            return None
        self._order += 1
        mark = {"Web shop": "W", "Market": "M", "Wholesale": "S"}.get(channel, "E")
        return send(
            takings,
            to=Contact(to, reach=reach),
            kind=KINDS.get(channel, Dispatch.Kind.SALE),
            channel=channel,
            reference=f"{mark}-{self._order}",
            signature=self.sign(self.people.owner if channel == "Wholesale" else self.people.maker, minute),
        )

    def _take(self, wants: dict[str, int], seconds: int) -> list[Taking]:
        left: dict[tuple[int, str], int] = {}
        for key, wanted in wants.items():
            item = self.products[key].item
            left |= {(item.pk, Grade.FIRST): wanted, (item.pk, Grade.SECOND): seconds}
        takings = []
        released = Lot.objects.filter(item__in={item for item, _ in left}, awaits_release=False)
        lots = released.on_shelf().usable(self.day)
        for lot in lots.exclude(ready_on__gt=self.day).order_by("arrived_at", "pk"):
            taken = min(left[lot.item_id, lot.grade], lot.on_hand)
            if taken > 0:
                takings.append(Taking(lot.pk, taken))
                left[lot.item_id, lot.grade] -= taken
        return takings

    def _on_sale(self) -> list[story.ProductStory]:
        return [each for each in story.PRODUCTS if each.weekly]

    def sell_today(self) -> None:
        """Web orders on working days, a market on most Saturdays, a shop each week, an event now and then."""
        week, weekday = (self.day - self.first_day).days // 7, self.day.weekday()
        if weekday < 5:
            for place in range(self.roughly(130 * self.percent_on(self.day) // 100)):
                self._web_order(16 * 60 + place)
        if weekday == 5 and (week % 4 or self.day.month in (10, 11, 12)):
            self.sell(
                self._share(30),
                to=self.rng.choice(story.MARKETS),
                channel="Market",
                minute=7 * 60 + 30,
                seconds=1,
            )
        if weekday == 3:
            self.sell(self._share(35), to=story.SHOPS[week % 3], channel="Wholesale", minute=15 * 60 + 40)
        if weekday == 4 and week % 6 == 3:
            chosen = self.rng.choice(("cedar_tin", "quince_tin", "rain_jar"))
            to = story.EVENTS[week // 6 % len(story.EVENTS)]
            self.sell({chosen: self.rng.randint(20, 40)}, to=to, channel="Event", minute=15 * 60 + 50)

    def _web_order(self, minute: int) -> None:
        products = self._on_sale()
        weights = [each.weekly * self.percent_on(self.day, each) for each in products]
        chosen = self.rng.choices(products, weights, k=self.rng.choice((1, 1, 2)))
        wants = {each.key: self.rng.choice((1, 1, 2, 4)) for each in chosen}
        to = self.rng.choice(story.CUSTOMERS)
        if to == story.FORGOTTEN and (self.today - self.day).days <= story.FORGOTTEN_DAYS_AGO:
            to = story.CUSTOMERS[0]
        self.sell(wants, to=to, channel="Web shop", minute=minute, reach=story.reach_of(to))

    def _share(self, percent: int) -> dict[str, int]:
        """A share of a week's sales of everything."""
        return {
            each.key: self.roughly(each.weekly * self.percent_on(self.day, each) * percent // 100)
            for each in self._on_sale()
        }

    # The calendar

    def live(self, script: dict[int, Callable[[], None]], progress: Callable[[], None]) -> None:
        """Every day from the first to yesterday. `script`: what happens first thing on a day, by days ago."""
        while self.day < self.today:
            if self.day.day == 1:
                progress()
            self.write_due_versions()
            if event := script.get((self.today - self.day).days):
                event()
            if (self.today - self.day).days > RELEASED_BEFORE:
                self.release_what_has_cured()
            if self.day.weekday() < 5:
                self._work_day()
            self.sell_today()
            self.day += timedelta(days=1)

    def _work_day(self) -> None:
        if self.day.weekday() == 0:
            self.plan_the_week()
        if self.day.weekday() in (0, 2):
            self.order_what_is_low()
        self.take_in_deliveries()
        self.blend_what_is_low()
        self.pour_and_pack()
