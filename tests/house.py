"""The studio's books in sentences, so that a test reads as what happened on the shelf.

Everything is recorded at NOW. Goods arrive on the first of March unless a test says otherwise; all else
happens at NOW.
"""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from fractions import Fraction

import pytest
from django.db import connection, transaction

from batches import formulas, runs
from batches.models import Batch, Draw, Formula, FormulaVersion, Outcome
from inventory import books, decanting, deliveries, moving, taking_out
from inventory.deliveries import Arrival
from inventory.models import (
    Commitment,
    Delivery,
    Dispatch,
    HoldRecord,
    Item,
    Kind,
    Lot,
    Movement,
    PeriodCost,
    Posting,
    Reason,
    Supplier,
)
from inventory.moving import Taking
from studio.models import User
from studio.quantities import Dimension
from studio.signature import Signature

ARRIVED = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
NOW = datetime(2026, 3, 20, 12, 0, tzinfo=UTC)
TODAY = NOW.date()

MICROGRAMS = {"g": 10**6, "kg": 10**9}
MICROMETRES = {"mm": 1_000, "cm": 10_000, "m": 1_000_000}


def day(of_march: int, hour: int = 9) -> datetime:
    """An instant in March 2026."""
    return datetime(2026, 3, of_march, hour, tzinfo=UTC)


def grams(amount: int | str) -> int:
    """Grams in base units."""
    return _whole(Fraction(str(amount)) * 10**6)


def money(amount: int | str) -> int:
    """Units of currency in millionths."""
    return _whole(Fraction(str(amount)) * 10**6)


def base(text: str | int, dimension: Dimension = Dimension.MASS) -> int:
    """`2.5 kg`, `48` or `12 m` in base units; read here, so that no parser of ours checks itself."""
    if isinstance(text, int):
        return text
    amount, _, unit = text.partition(" ")
    factor = {Dimension.MASS: MICROGRAMS, Dimension.LENGTH: MICROMETRES, Dimension.COUNT: {"": 1}}[dimension]
    return _whole(Fraction(amount) * factor[unit])


def _whole(amount: Fraction) -> int:
    assert amount.denominator == 1
    return int(amount)


def snapshot() -> tuple:
    """Everything that a refusal must leave as it was."""
    return (
        list(Lot.objects.order_by("pk").values_list("pk", "code", "on_hand", "value", "held")),
        list(Movement.objects.order_by("pk").values_list("pk", "lot", "quantity", "value")),
        list(Posting.objects.order_by("pk").values_list("pk", flat=True)),
        list(PeriodCost.objects.order_by("pk").values_list("pk", "value")),
        list(Commitment.objects.order_by("source", "item").values_list("source", "item", "quantity")),
        list(Batch.objects.order_by("pk").values_list("pk", "state", "finished_at", "note")),
        [model.objects.count() for model in (Draw, Outcome, Delivery, Dispatch, HoldRecord, FormulaVersion)],
    )


def settle() -> None:
    """Have PostgreSQL check deferred keys now; it alters no table while such checks are open."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")


@contextmanager
def refused(error: type[Exception], match: str) -> Iterator[pytest.ExceptionInfo]:
    """The block is refused with this error and sentence, and nothing moved."""
    before = snapshot()
    with pytest.raises(error, match=match) as caught, transaction.atomic():
        yield caught
    assert snapshot() == before


class Books:
    """What people do, in the words of the studio. An item is named; one named like a kind is of that kind."""

    def __init__(self, by: User) -> None:
        self.by = by

    def sign(self, at: datetime = NOW, reason: str = "") -> Signature:
        """A signature for something that happened `at`, recorded at NOW."""
        return Signature(by=self.by, happened_at=at, recorded_at=max(NOW, at), reason=reason)

    def item(self, name: str, kind: str = "", unit: str = "", **fields) -> Item:
        """The item of this name, made when it is new: by the gram, or counted where its kind is counted."""
        if known := Item.objects.filter(name=name).first():
            return known
        kind = kind or (name if name in Kind.values else Kind.WAX)
        weighed = kind in {Kind.WAX, Kind.FRAGRANCE, Kind.DYE, Kind.ADDITIVE}
        return Item.objects.create(name=name, kind=kind, unit=unit or ("g" if weighed else "each"), **fields)

    def supplier(self) -> Supplier:
        """The one who sends everything."""
        return Supplier.objects.get_or_create(name="Tollgate Wax and Wick")[0]

    def arrival(self, name: str, quantity: str | int, cost: str | int, *, packs: int = 1, **more) -> Arrival:
        """A line of an invoice: packs of a quantity, `cost` for all of them."""
        item = self.item(name)
        return Arrival(
            item=item,
            packs=packs,
            pack_quantity=base(quantity, item.dimension),
            goods_value=money(cost),
            typed_quantity=str(quantity),
            typed_price=str(cost),
            **more,
        )

    def deliver(
        self, *arrivals: Arrival, freight: str | int = 0, spread: str = "value", at: datetime = ARRIVED
    ) -> Delivery:
        """A delivery of several lines."""
        return deliveries.receive(
            supplier=self.supplier(),
            reference="T-204",
            arrivals=arrivals,
            freight=money(freight),
            spread=spread,
            signature=self.sign(at),
        )

    def receive(
        self,
        name: str,
        quantity: str | int,
        *,
        cost: str | int = 0,
        freight: str | int = 0,
        at: datetime = ARRIVED,
        **more,
    ) -> Lot:
        """One lot arrives."""
        delivery = self.deliver(self.arrival(name, quantity, cost, **more), freight=freight, at=at)
        return Lot.objects.get(delivery_line__delivery=delivery)

    def take(self, *pairs: tuple[Lot, str | int]) -> list[Taking]:
        """Quantities of lots, as the verbs want them."""
        return [Taking(lot.pk, base(quantity, lot.item.dimension)) for lot, quantity in pairs]

    def draw(self, lot: Lot, quantity: str | int, *, at: datetime = NOW, found: bool = False) -> Posting:
        """Take from a lot, for no batch in particular."""
        return moving.draw(self.take((lot, quantity)), signature=self.sign(at), book_found=found)

    def send(
        self, lot: Lot, quantity: str | int, *, at: datetime = NOW, to: str = "Harbour Street Market"
    ) -> Posting:
        """Goods leave."""
        dispatch = moving.send(
            self.take((lot, quantity)), to=to, channel="market", reference="", signature=self.sign(at)
        )
        return dispatch.posting

    def reverse(self, posting: Posting, reason: str = "mis-keyed") -> Posting:
        """Undo a posting."""
        return books.reverse(posting, self.sign(reason=reason))

    def formula(
        self, makes: str, lines: Sequence[tuple], *, fill: str | None = None, name: str = "", **process
    ) -> FormulaVersion:
        """A first version. Lines: item, basis, amount (ppm, or base units per unit), any spare in ppm."""
        product = self.item(makes, kind="finished" if fill else "")
        formula = Formula.objects.create(name=name or makes, item=product)
        ingredients = [
            formulas.Ingredient(self.item(item), basis, base(amount, self.item(item).dimension), *spare)
            for item, basis, amount, *spare in lines
        ]
        fields = {"fill_ug": base(fill) if fill else None, "loss_ppm": 0, "division_ug": grams(1), **process}
        return formulas.write_version(formula, fields, ingredients, signature=self.sign())

    def candle(self, name: str = "Cedar & Black Tea", **process) -> FormulaVersion:
        """100 g of melt in a vessel with a wick: 92 g of wax and 8 g of fragrance, no loss allowance."""
        lines = [
            ("wax", "wax_share", 1_000_000),
            ("fragrance", "of_melt", 80_000),
            ("wick", "per_unit", 1),
            ("vessel", "per_unit", 1),
        ]
        return self.formula(name, lines, fill="100 g", **process)

    def plan(self, version: FormulaVersion, quantity: int, *, on: date = TODAY) -> Batch:
        """Plan a run."""
        return runs.plan(version, quantity, planned_on=on, signature=self.sign())

    def line(self, batch: Batch, name: str) -> int:
        """The key of the batch's formula line for an item."""
        return batch.version.lines.get(item__name=name).pk

    def draw_into(
        self,
        batch: Batch,
        *pairs: tuple[Lot, str | int],
        at: datetime = NOW,
        found: bool = False,
        line: str = "",
    ) -> Posting:
        """Draw lots of one item into a batch."""
        key = self.line(batch, line or pairs[0][0].item.name)
        return runs.draw_line(batch.pk, key, self.take(*pairs), signature=self.sign(at), book_found=found)

    def fill(
        self, shelf: Mapping[str, Lot], batch: Batch, units: int = 10, *, at: datetime = NOW
    ) -> dict[str, Posting]:
        """Draw what so many units of `candle` need, each item from one lot."""
        needs = {"wax": f"{92 * units} g", "fragrance": f"{8 * units} g", "wick": units, "vessel": units}
        return {name: self.draw_into(batch, (shelf[name], need), at=at) for name, need in needs.items()}

    def correct(self, posting: Posting, *pairs: tuple[Lot, str | int], found: bool = False) -> Posting | None:
        """Put a draw right."""
        return runs.correct_draw(
            posting, self.take(*pairs), signature=self.sign(reason="mis-keyed"), book_found=found
        )

    def finish(
        self,
        batch: Batch,
        good: int = 0,
        seconds: int = 0,
        scrap: Mapping[str, int] | None = None,
        *,
        at: datetime = NOW,
        without: bool = False,
    ) -> list[Lot]:
        """Finish a batch; gives back the lots it made, good before seconds."""
        result = runs.Result(good, seconds, scrap or {})
        posting = runs.finish(batch.pk, result, signature=self.sign(at), without=without)
        return list(Lot.objects.filter(outcome__posting=posting).order_by("pk"))

    def undo(self, batch: Batch) -> Batch:
        """Open a finished batch again."""
        return runs.undo_finish(batch.pk, signature=self.sign(reason="counted again"))

    def decant(
        self,
        *parents: tuple[Lot, str | int],
        jars: Sequence[str | int] = (),
        at: datetime = NOW,
        emptied: bool = False,
        found: bool = False,
    ) -> list[Lot]:
        """Pour into jars; into one jar, of all that was taken, when none are named."""
        takings = self.take(*parents)
        dimension = parents[0][0].item.dimension
        filled = [base(jar, dimension) for jar in jars] or [sum(taking.quantity for taking in takings)]
        return decanting.decant(
            takings,
            [decanting.Jar(quantity) for quantity in filled],
            signature=self.sign(at),
            emptied=emptied,
            book_found=found,
        )

    def take_out(self, lot: Lot, quantity: str | int, kind: str = "scrap", *, at: datetime = NOW) -> Posting:
        """Scrap, a sample, or back to the supplier."""
        amount = base(quantity, lot.item.dimension)
        return taking_out.take_out(lot.pk, amount, kind=Reason.Kind(kind), signature=self.sign(at, "Spilled"))

    def of(self, lot: Lot) -> tuple[int, int]:
        """What a lot holds now and what it is worth."""
        lot.refresh_from_db()
        return lot.on_hand, lot.value
