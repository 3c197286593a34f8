"""A long history of the kind tracing is for, written straight into the tables: decant chains six deep, mixes of two lots,
blends in blends in blends, candles, and dispatches; draws and dispatches that were reversed among them.

It is made of families, each a supply of its own from deliveries to customers: a seeded handful is told move by move, by
the rules the books keep, and then written down again and again under new keys and at later times. So the books agree
(`check_books`), a million movements take minutes, and a trace has as much to find in a long history as in a short one.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from itertools import count

from django.db import connection, transaction
from django.utils import timezone

from batches.formulas import writing as formulas
from batches.models import Batch, BatchEnd, Formula, FormulaVersion, Outcome
from inventory.models import Delivery, DeliveryLine, Dispatch, Item, Kind, Lot, Supplier
from studio.core.codes import make_code
from studio.core.money import share
from studio.models import Role, User
from studio.people.signature import Signature
from tests.performance.history import _insert

FIRST = datetime(2024, 1, 1, 8, tzinfo=UTC)
KINDS = 12
DEEP = 6
APART = timedelta(minutes=90)
GRAM = 10**6
AT_ONCE = 100


@dataclass
class _Lot:
    item: str
    step: int
    on_hand: int = 0
    value: int = 0
    delivered: bool = False


@dataclass
class Family:
    """One family in keys of its own, from 0: postings (kind, step, what it reverses), movements (posting, lot, kind,
    quantity, value), and what hangs on them."""

    chance: random.Random
    lots: list[_Lot] = field(default_factory=list)
    postings: list[tuple[str, int, int | None]] = field(default_factory=list)
    moves: list[tuple[int, int, str, int, int]] = field(default_factory=list)
    receipts: list[tuple[int, int]] = field(default_factory=list)
    batches: list[tuple[str, int, int]] = field(default_factory=list)
    draws: list[tuple[int, str, int]] = field(default_factory=list)
    outcomes: list[tuple[int, int, str, int, int | None]] = field(default_factory=list)
    dispatches: list[int] = field(default_factory=list)

    def post(self, kind: str, *lines: tuple[int, str, int, int | None]) -> int:
        """Lines of lot, kind, quantity and value; without a value, what the quantity carries."""
        posting = len(self.postings)
        self.postings.append((kind, posting, None))
        for lot, what, quantity, value in lines:
            held = self.lots[lot]
            if value is None:
                last = -quantity == held.on_hand
                value = -(held.value if last else share(held.value, -quantity, held.on_hand))
            held.on_hand += quantity
            held.value += value
            self.moves.append((posting, lot, what, quantity, value))
        return posting

    def lot(self, item: str) -> int:
        self.lots.append(_Lot(item, len(self.postings)))
        return len(self.lots) - 1

    def receive(self, item: str, quantity: int, value: int) -> int:
        lot = self.lot(item)
        self.lots[lot].delivered = True
        self.receipts.append((self.post("receipt", (lot, "received", quantity, value)), lot))
        return lot

    def pour(self, parents: list[tuple[int, int]]) -> int:
        """From one lot or several into a new one."""
        child = self.lot(self.lots[parents[0][0]].item)
        before = {lot: self.lots[lot].value for lot, _ in parents}
        posting = self.post("decant", *((lot, "decanted", -quantity, None) for lot, quantity in parents))
        worth = sum(before[lot] - self.lots[lot].value for lot, _ in parents)
        whole = sum(quantity for _, quantity in parents)
        self.lots[child].on_hand, self.lots[child].value = whole, worth
        self.moves.append((posting, child, "decanted", whole, worth))
        return child

    def undo(self, posting: int) -> None:
        """The mirror of a posting, at its time."""
        mirror = len(self.postings)
        self.postings.append(("reversal", self.postings[posting][1], posting))
        for of, lot, what, quantity, value in list(self.moves):
            if of == posting:
                self.lots[lot].on_hand -= quantity
                self.lots[lot].value -= value
                self.moves.append((mirror, lot, what, -quantity, -value))

    def run(self, makes: str, quantity: int, *draws: tuple[int, int], scrap: int = 0) -> int:
        """A finished batch: what it drew, by lot, and the lot it made. Now and then a draw was reversed first."""
        batch, worth = len(self.batches), 0
        for lot, amount in draws:
            if self.chance.random() < 0.3:
                wrong = self.post("draw", (lot, "drawn", -amount // 2, None))
                self.draws.append((batch, self.lots[lot].item, len(self.moves) - 1))
                self.undo(wrong)
            self.post("draw", (lot, "drawn", -amount, None))
            self.draws.append((batch, self.lots[lot].item, len(self.moves) - 1))
            worth -= self.moves[-1][4]
        lot = self.lot(makes)
        posting = self.post("yield", (lot, "made", quantity, worth))
        self.batches.append((makes, quantity + scrap, posting))
        self.outcomes.append((batch, posting, "good", quantity, lot))
        if scrap:
            self.outcomes.append((batch, posting, "scrap", scrap, None))
        return lot

    def send(self, lot: int, quantity: int) -> None:
        posting = self.post("dispatch", (lot, "dispatched", -quantity, None))
        self.dispatches.append(posting)
        if self.chance.random() < 0.1:
            self.undo(posting)


def family(seed: int) -> Family:
    """About a hundred movements: five deliveries, a chain of decants, a mix, three blends, four runs, dispatches."""
    chance = random.Random(seed)  # noqa: S311
    told = Family(chance)
    pail, other = (told.receive("wax", 20_000 * GRAM, 100 * GRAM + chance.randint(0, 999)) for _ in range(2))
    oil = told.receive("fragrance", 2_000 * GRAM, 80 * GRAM)
    wicks, vessels = told.receive("wick", 400, 40 * GRAM), told.receive("vessel", 400, 800 * GRAM)
    jar = pail
    for depth in range(DEEP):
        jar = told.pour([(jar, (9_000 - 1_000 * depth - chance.randint(0, 500)) * GRAM)])
    mixed = told.pour([(jar, 2_000 * GRAM), (other, chance.randint(4_000, 6_000) * GRAM)])
    base = told.run("base", 7_500 * GRAM, (mixed, 5_000 * GRAM), (other, 2_600 * GRAM))
    second = told.run("second base", 6_900 * GRAM, (base, 6_000 * GRAM), (pail, 1_000 * GRAM))
    scented = told.run("scented", 6_500 * GRAM, (second, 6_000 * GRAM), (oil, 600 * GRAM))
    for _ in range(4):
        units = chance.randint(11, 14)
        scrap = chance.randint(0, 1)
        needs = units + scrap
        tins = told.run(
            "tin", units, (scented, needs * 100 * GRAM), (wicks, needs), (vessels, needs), scrap=scrap
        )
        for _ in range(chance.randint(9, 11)):
            told.send(tins, 1)
    return told


@transaction.atomic
def write(movements: int) -> list[int]:
    """Fill an empty, migrated database with at least so many movements; gives back the key of the first lot of each
    family, the pail all its decants come from. Its last lot stands before the next family's first."""
    writer = _Writer()
    told = [family(seed) for seed in range(KINDS)]
    firsts, waiting, written = [], [], 0
    for number in count():
        if written >= movements:
            break
        one = told[number % KINDS]
        firsts.append(writer.lot_key + sum(len(each.lots) for each in waiting))
        waiting.append(one)
        written += len(one.moves)
        if len(waiting) == AT_ONCE or written >= movements:
            writer.write(waiting, number + 1 - len(waiting))
            waiting = []
    writer.settle()
    return firsts


class _Writer:
    """Writes families under keys that go on from one to the next."""

    def __init__(self) -> None:
        self.by = User.objects.create(username="families", role=Role.OWNER)
        self.supplier = Supplier.objects.create(name="Tollgate Long Row")
        self.items = {name: Item.objects.create(name=f"Family {name}", **_kind(name)) for name in _KINDS}
        self.versions: dict[str, FormulaVersion] = {}
        now = timezone.now()
        for makes, (fill, lines) in _FORMULAS.items():
            formula = Formula.objects.create(name=f"Family {makes}", item=self.items[makes])
            ingredients = [
                formulas.Ingredient(self.items[item], basis, amount) for item, basis, amount in lines
            ]
            fields = {"fill_ug": fill, "loss_ppm": 0, "division_ug": GRAM}
            signature = Signature(self.by, now, now)
            self.versions[makes] = formulas.write_version(formula, fields, ingredients, signature=signature)
        self.lines = {
            (makes, line.item_id): line.pk
            for makes, version in self.versions.items()
            for line in version.lines.all()
        }
        self.lot_codes, self.batch_codes = _codes("L"), _codes("B")
        self.posting_key = self.move_key = self.lot_key = self.batch_key = self.delivery_key = 1

    def write(self, families: list[Family], first: int) -> None:
        """Some families, the first of which is so far along."""
        rows: dict[str, list] = {
            name: []
            for name in ("postings", "moves", "lots", "deliveries", "lines", "batches", "draws", "outcomes")
        }
        rows |= {"ends": [], "dispatches": []}
        for place, one in enumerate(families):
            self._stamp(one, FIRST + APART * (first + place), rows)
        by = f"{self.by.pk}, ''"
        _insert(
            "inventory_posting",
            "id, kind, happened_at, recorded_at, reverses_id, by_id, reason",
            rows["postings"],
            by,
        )
        Delivery.objects.bulk_create(rows["deliveries"])
        DeliveryLine.objects.bulk_create(rows["lines"])
        Lot.objects.bulk_create(rows["lots"])
        _insert("inventory_movement", "id, posting_id, lot_id, kind, quantity, value", rows["moves"])
        Batch.objects.bulk_create(rows["batches"])
        BatchEnd.objects.bulk_create(rows["ends"])
        _insert("batches_draw", "batch_id, line_id, movement_id", rows["draws"])
        Outcome.objects.bulk_create(rows["outcomes"])
        Dispatch.objects.bulk_create(rows["dispatches"])

    def _stamp(self, one: Family, start: datetime, rows: dict[str, list]) -> None:
        """One family under the next keys."""
        at = [start + timedelta(minutes=step) for step in range(len(one.postings))]
        posting, move, lot, batch = self.posting_key, self.move_key, self.lot_key, self.batch_key
        for number, (kind, step, reverses) in enumerate(one.postings):
            undone = None if reverses is None else posting + reverses
            rows["postings"].append((posting + number, kind, at[step], at[step], undone))
        of_receipt = {}
        for number, (receipt, own) in enumerate(one.receipts):
            key = self.delivery_key + number
            of_receipt[own] = key
            came = next(row for row in one.moves if row[0] == receipt)
            rows["deliveries"].append(Delivery(pk=key, supplier=self.supplier, posting_id=posting + receipt))
            item = self.items[one.lots[own].item]
            rows["lines"].append(
                DeliveryLine(
                    pk=key,
                    delivery_id=key,
                    item=item,
                    pack_quantity=came[3],
                    typed_quantity="",
                    goods_value=came[4],
                )
            )
        for number, held in enumerate(one.lots):
            rows["lots"].append(
                Lot(
                    pk=lot + number,
                    code=next(self.lot_codes),
                    item=self.items[held.item],
                    supplier=self.supplier if held.delivered else None,
                    delivery_line_id=of_receipt.get(number),
                    arrived_at=at[min(held.step, len(at) - 1)],
                    on_hand=held.on_hand,
                    value=held.value,
                )
            )
        for number, (of, own, kind, quantity, value) in enumerate(one.moves):
            rows["moves"].append((move + number, posting + of, lot + own, kind, quantity, value))
        for number, (makes, planned, of) in enumerate(one.batches):
            ended = at[one.postings[of][1]]
            rows["batches"].append(
                Batch(
                    pk=batch + number,
                    code=next(self.batch_codes),
                    version=self.versions[makes],
                    quantity=planned,
                    planned_on=ended.date(),
                    state="finished",
                    planned_by=self.by,
                    planned_at=ended,
                    finished_at=ended,
                )
            )
            rows["ends"].append(
                BatchEnd(batch_id=batch + number, sign=1, happened_at=ended, recorded_at=ended, by=self.by)
            )
        for of, item, line in one.draws:
            makes = one.batches[of][0]
            rows["draws"].append((batch + of, self.lines[makes, self.items[item].pk], move + line))
        for of, by, result, quantity, own in one.outcomes:
            rows["outcomes"].append(
                Outcome(
                    batch_id=batch + of,
                    posting_id=posting + by,
                    result=result,
                    quantity=quantity,
                    defect="Sinkhole" if result == "scrap" else "",
                    lot_id=None if own is None else lot + own,
                    begins_id=None if own is None else lot + own,
                )
            )
        rows["dispatches"] += [Dispatch(posting_id=posting + of) for of in one.dispatches]
        self.posting_key += len(one.postings)
        self.move_key += len(one.moves)
        self.lot_key += len(one.lots)
        self.batch_key += len(one.batches)
        self.delivery_key += len(one.receipts)

    def settle(self) -> None:
        """Have PostgreSQL count on from the keys that were given."""
        if connection.vendor != "postgresql":
            return
        with connection.cursor() as cursor:
            for table in (
                "inventory_posting",
                "inventory_movement",
                "inventory_lot",
                "batches_batch",
                "inventory_delivery",
            ):
                cursor.execute(
                    f"SELECT setval(pg_get_serial_sequence('{table}', 'id'), (SELECT max(id) FROM {table}))"
                )


def _codes(prefix: str) -> Iterator[str]:
    return (code for code in (make_code(prefix, number) for number in count(1)) if code)


def _kind(name: str) -> dict[str, object]:
    kind, unit, made = _KINDS[name]
    return {"kind": kind, "unit": unit, "made_here": made}


_KINDS = {
    "wax": (Kind.WAX, "g", False),
    "fragrance": (Kind.FRAGRANCE, "g", False),
    "wick": (Kind.WICK, "each", False),
    "vessel": (Kind.VESSEL, "each", False),
    "base": (Kind.WAX, "g", True),
    "second base": (Kind.WAX, "g", True),
    "scented": (Kind.WAX, "g", True),
    "tin": (Kind.FINISHED, "each", False),
}
_FORMULAS: dict[str, tuple[int | None, list[tuple[str, str, int]]]] = {
    "base": (None, [("wax", "wax_share", 1_000_000)]),
    "second base": (None, [("base", "wax_share", 900_000), ("wax", "wax_share", 100_000)]),
    "scented": (None, [("second base", "wax_share", 1_000_000), ("fragrance", "of_melt", 50_000)]),
    "tin": (
        100 * GRAM,
        [("scented", "wax_share", 1_000_000), ("wick", "per_unit", 1), ("vessel", "per_unit", 1)],
    ),
}
