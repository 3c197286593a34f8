"""The studio's books in sentences, so that a test reads as what happened on the shelf.

Everything is recorded at NOW. Goods arrive on the first of March unless a test says otherwise; all else
happens at NOW.
"""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from fractions import Fraction
from uuid import UUID, uuid4

import pytest
from django.db import connection, transaction

from batches.bench import entries as bench
from batches.burn_tests import burning
from batches.complaints import complaining
from batches.fill_checks import checking as fill_checks
from batches.formulas import approving
from batches.formulas import writing as formulas
from batches.models import (
    Batch,
    BenchEntry,
    BurnReading,
    BurnTest,
    ChosenLot,
    Complaint,
    ComplaintChange,
    Draw,
    FillCheck,
    FillWeight,
    Formula,
    FormulaVersion,
    Outcome,
    Recall,
    RecallAnswer,
    RecallLot,
    RecallSent,
    RecallStep,
    Release,
    StateChange,
)
from batches.planning import plans
from batches.production import finishing, releasing, runs
from batches.recalls import recalling
from inventory.counting import counting
from inventory.customers.customers import Contact
from inventory.deliveries import receiving as deliveries
from inventory.deliveries.receiving import Arrival
from inventory.documents import services
from inventory.importing import import_service
from inventory.ledger import books, closing
from inventory.lots import decanting, moving, write_offs
from inventory.lots.moving import Taking
from inventory.models import (
    Closing,
    Commitment,
    Count,
    CountLine,
    CustomerOrder,
    CustomerOrderLine,
    Delivery,
    Dispatch,
    Document,
    DocumentContent,
    DocumentRecord,
    HoldRecord,
    Import,
    Item,
    Kind,
    Lot,
    Movement,
    Offer,
    Order,
    OrderDispatch,
    OrderLine,
    PeriodCost,
    Posting,
    Reason,
    Supplier,
    WaitingTable,
)
from inventory.purchasing import offers, ordering
from inventory.sales_orders import customer_orders
from inventory.shipments import dispatching, for_order
from studio.core.quantities import Dimension
from studio.models import Market, Studio, User
from studio.people.signature import Signature
from studio.web import uploads
from tests.files import pdf

ARRIVED = datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
NOW = datetime(2026, 3, 20, 12, 0, tzinfo=UTC)
TODAY = NOW.date()
FIRST_DAY = ARRIVED.date()

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
        list(
            Lot.objects.order_by("pk").values_list("pk", "code", "on_hand", "value", "held", "awaits_release")
        ),
        list(Movement.objects.order_by("pk").values_list("pk", "lot", "quantity", "value")),
        list(Posting.objects.order_by("pk").values_list("pk", flat=True)),
        list(PeriodCost.objects.order_by("pk").values_list("pk", "value")),
        list(Commitment.objects.order_by("source", "item").values_list("source", "item", "quantity")),
        list(Batch.objects.order_by("pk").values_list("pk", "state", "finished_at", "note")),
        list(Order.objects.order_by("pk").values_list("pk", "state", "expected_on", "note", "ended_because")),
        list(OrderLine.objects.order_by("pk").values_list("pk", "item", "packs", "pack_quantity", "price")),
        list(Offer.objects.order_by("pk").values_list("pk", "withdrawn")),
        list(CustomerOrder.objects.order_by("pk").values_list("pk", "state", "wanted_on", "note")),
        list(CustomerOrderLine.objects.order_by("pk").values_list("pk", "item", "quantity")),
        list(ChosenLot.objects.order_by("pk").values_list("batch", "line", "lot", "quantity")),
        list(Count.objects.order_by("pk").values_list("pk", "state", "posting")),
        list(CountLine.objects.order_by("pk").values_list("pk", "counted", "counted_at", "reason", "note")),
        list(Document.objects.order_by("pk").values_list("pk", "kind", "withdrawn", "erased")),
        [model.objects.count() for model in (Draw, Outcome, Delivery, Dispatch, HoldRecord, FormulaVersion)],
        [model.objects.count() for model in (DocumentContent, DocumentRecord)],
        [model.objects.count() for model in (FillCheck, FillWeight, Release)],
        list(Complaint.objects.order_by("pk").values_list("pk", "state", "kind", "lot", "erased_at")),
        list(Recall.objects.order_by("pk").values_list("pk", "state", "ended_at")),
        [
            model.objects.count()
            for model in (ComplaintChange, RecallStep, RecallLot, RecallSent, RecallAnswer)
        ],
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
        dispatch = dispatching.send(
            self.take((lot, quantity)), to=Contact(to), channel="market", signature=self.sign(at)
        )
        return dispatch.posting

    def close(self, through: date, reason: str = "The month is over") -> Closing:
        """Close the books through a day."""
        return closing.close(through, signature=self.sign(reason=reason))

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

    def plan(
        self, version: FormulaVersion, quantity: int, *, on: date = TODAY, order: CustomerOrder | None = None
    ) -> Batch:
        """Plan a run, for an order's line of the product where one is named."""
        line = order.lines.get(item=version.formula.item).pk if order else None
        return plans.plan(version, quantity, planned_on=on, signature=self.sign(), order_line_id=line)

    def choose(self, batch: Batch, *pairs: tuple[Lot, str | int], line: str = "") -> Batch:
        """Choose lots of one item by hand; none: as suggested."""
        key = self.line(batch, line or pairs[0][0].item.name)
        takes = {taking.lot_id: taking.quantity for taking in self.take(*pairs)}
        return plans.choose_lots(batch.pk, {key: takes}, on=TODAY)

    def order_of(
        self, customer: str, *lines: tuple[str, int], on: date = TODAY, at: datetime = NOW, **said
    ) -> CustomerOrder:
        """An order that a customer placed: pairs of a product and how many."""
        wanted = {self.item(name, kind="finished").pk: quantity for name, quantity in lines}
        words = customer_orders.OrderHead(customer, on, **said)
        return customer_orders.take(words, wanted, signature=self.sign(at))

    def send_for(self, order: CustomerOrder, *pairs: tuple[Lot, int], at: datetime = NOW) -> OrderDispatch:
        """Goods leave for a customer's order."""
        return for_order.send(order.pk, self.take(*pairs), signature=self.sign(at))

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

    def bench(
        self,
        batch: Batch,
        kind: str,
        *,
        key: UUID | None = None,
        line: str | int = "",
        lot: Lot | None = None,
        quantity: str | int = 0,
        at: datetime = NOW,
        by: User | None = None,
        **said,
    ) -> BenchEntry:
        """What a tablet sends from the bench, under a new key unless one is given; the line by its item or its key."""
        if lot:
            said |= {"lot_id": lot.pk, "quantity": base(quantity, lot.item.dimension)}
            said |= {"line_id": line if isinstance(line, int) else self.line(batch, line or lot.item.name)}
        entered = bench.Entered(key=key or uuid4(), kind=kind, **said)
        signature = Signature(by=by or self.by, happened_at=at, recorded_at=max(NOW, at))
        return bench.take_in(
            batch.pk, entered, digest=hashlib.sha256(repr(entered).encode()).hexdigest(), signature=signature
        )

    def correct(
        self, posting: Posting, *pairs: tuple[Lot, str | int], found: bool = False, despite: str = ""
    ) -> Posting | None:
        """Put a draw right."""
        signature = self.sign(reason="mis-keyed")
        return runs.correct_draw(
            posting, self.take(*pairs), signature=signature, book_found=found, despite=despite
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
        last: bool = True,
        release: bool = True,
        **more,
    ) -> list[Lot]:
        """Finish a batch, or a part of it; gives back the lots it made, good before seconds, those that have cured by
        TODAY released for sale."""
        result = finishing.Result(good, seconds, scrap or {}, **more)
        posting = finishing.finish(batch.pk, result, signature=self.sign(at), without=without, last=last)
        for lot in Lot.objects.on_shelf().filter(outcomes__posting=posting, awaits_release=True):
            if release and not (lot.ready_on and lot.ready_on > TODAY):
                self.release(lot)
        return [
            line.lot for line in posting.outcomes.exclude(lot=None).select_related("lot__item").order_by("pk")
        ]

    def light(
        self, version: FormulaVersion, *jars: str, melt: str | None = "100 g", at: datetime = NOW, **more
    ) -> BurnTest:
        """Begin a burn test of jars that weigh so much, vessel and all."""
        weighed = [burning.JarWeight(base(jar), base(melt) if melt else None) for jar in jars]
        test = {"cycle_minutes": 240, **more}
        return burning.start(version.pk, weighed, signature=self.sign(at), **test)

    def read(
        self, test: BurnTest, cycle: int, *seen: Mapping | None, at: datetime = NOW, kind: str = "cycle"
    ) -> list[BurnReading]:
        """What the jars showed, in their order; None leaves one out. Weights as text, four hours unless told."""
        jars = zip(test.jars.order_by("number"), seen, strict=False)
        read = []
        for jar, fields in jars:
            if fields is not None:
                weight = base(fields["weight"]) if "weight" in fields else None
                more = {name: value for name, value in fields.items() if name != "weight"}
                read.append(burning.Observation(jar.pk, **{"minutes": 240, "weight_ug": weight, **more}))
        return burning.read_cycle(test.pk, cycle, read, kind=kind, signature=self.sign(at))

    def burn(self, version: FormulaVersion, *, at: datetime = NOW, **seen) -> BurnTest:
        """A burn test of one jar of 350 g that lost 20 g in each of three cycles of four hours and then 25 g to the end of
        its life in five, and passed."""
        test = self.light(version, "350 g", at=at)
        calm = {"flame_um": 40_000, "soot": "none"}
        for cycle, weight in enumerate(("330 g", "310 g", "290 g"), 1):
            self.read(test, cycle, {"weight": weight, "mushrooming": "none", **calm, **seen}, at=at)
        end = {"weight": "265 g", "minutes": 300, "wax_left_um": 12_000, "went_out": "put_out"}
        self.read(test, 4, {**end, **calm}, at=at, kind="end")
        because = "" if not seen else "It was seen before"
        return burning.decide(
            test.pk, "passed", accepted_because=because, signature=self.sign(at, "Burned evenly")
        )

    def approve(
        self, version: FormulaVersion, reason: str = "Burned evenly", *, at: datetime = NOW
    ) -> StateChange:
        """Approve a version."""
        return approving.approve(version.pk, signature=self.sign(at, reason))

    def release(self, lot: Lot, *, on: date = TODAY, **looked_at) -> Release:
        """Let finished goods go on sale, everything looked at, whatever speaks against it."""
        checks = {"label_right": True, "warning_on": True, "unweighed": True, "despite": "It is a test"}
        checks |= looked_at
        return releasing.release(lot.pk, **checks, on=on, signature=self.sign())

    def check_fill(
        self, batch: Batch, nets: Sequence[str | int], *, declared: str, market: str = "eu", **more
    ) -> FillCheck:
        """Net weights in grams, in order, against a declared weight; of as many units as were weighed, unless told."""
        weights = [grams(net) for net in nets]
        more.setdefault("signature", self.sign())
        more.setdefault("lot_size", len(weights))
        return fill_checks.check_fill(
            batch.pk, weights, declared_ug=base(declared), market=Market(market), **more
        )

    def undo(self, batch: Batch) -> Batch:
        """Open a finished batch again."""
        return finishing.undo_finish(batch.pk, signature=self.sign(reason="counted again"))

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
        return write_offs.take_out(lot.pk, amount, kind=Reason.Kind(kind), signature=self.sign(at, "Spilled"))

    def start_count(
        self,
        scope: str = "everything",
        of: str = "",
        *,
        items: Sequence[str] | None = None,
        blind: bool = False,
    ) -> Count:
        """Begin a count; of the named items where there are any."""
        item_ids = None if items is None else [self.item(name).pk for name in items]
        return counting.start(
            scope=Count.Scope(scope), of=of, item_ids=item_ids, blind=blind, signature=self.sign()
        )

    def look(self, count: Count, *pairs: tuple[Lot, str | int], at: datetime = NOW) -> None:
        """Write down what was found; of what was counted before this is another look."""
        before = dict(count.lines.values_list("lot", "counted"))
        looks = [
            counting.Look(lot.pk, base(quantity, lot.item.dimension), str(quantity), seen=before.get(lot.pk))
            for lot, quantity in pairs
        ]
        counting.count_lots(count.pk, looks, signature=self.sign(at))

    def post_count(self, count: Count, reason: str = "Cause not known") -> Count:
        """Give every difference the same reason and put the count into the books."""
        why = Reason.objects.get(kind=Reason.Kind.COUNT, words=reason)
        reasons = dict.fromkeys(count.lines.looked_at().values_list("pk", flat=True), (why, ""))
        counting.explain(count.pk, reasons, signature=self.sign())
        return counting.post(count.pk, signature=self.sign())

    def offer(
        self,
        name: str,
        pack: str | int,
        *breaks: tuple[int, str | int],
        on: date = FIRST_DAY,
        supplier: Supplier | None = None,
        **more,
    ) -> Offer:
        """What a supplier asks for a pack: pairs of packs and the price of one from there on."""
        item = self.item(name)
        return offers.enter_offer(
            supplier=supplier or self.supplier(),
            item=item,
            pack_quantity=base(pack, item.dimension),
            typed_pack=str(pack),
            breaks=[offers.Break(packs, money(price)) for packs, price in breaks],
            quoted_on=on,
            signature=self.sign(),
            **more,
        )

    def wanted(
        self, name: str, packs: int, pack: str | int, price: str | int | None = None
    ) -> ordering.LineRequest:
        """A line to be ordered."""
        item = self.item(name)
        paid = None if price is None else money(price)
        return ordering.LineRequest(item, packs, base(pack, item.dimension), str(pack), paid)

    def order(self, *lines: tuple, sent: datetime | None = None, expected: date | None = None) -> Order:
        """An order of lines (item, packs, pack, any price); a draft unless it was sent at a time."""
        order = ordering.draft(
            supplier=self.supplier(),
            wanted=[self.wanted(*line) for line in lines],
            signature=self.sign(sent or NOW),
            expected_on=expected,
        )
        if sent:
            order = ordering.send(order.pk, signature=self.sign(sent), expected_on=order.expected_on)
        return order

    def bring(self, order: Order, *arrivals: tuple[int, str | int], cost: str | int = 1) -> Delivery:
        """A delivery against an order: of each line, by its place from 0, so much in one pack."""
        lines = list(order.lines.order_by("pk"))
        return self.deliver(
            *[
                self.arrival(lines[place].item.name, quantity, cost, order_line_id=lines[place].pk)
                for place, quantity in arrivals
            ],
            at=NOW,
        )

    def paper(
        self, name: str, kind: str = "safety", data: bytes | None = None, *, lot: Lot | None = None, **said
    ) -> Document:
        """A paper beside an item or one of its lots; each time another one, unless its bytes are given."""
        file = uploads.receive(f"{kind}.pdf", data or pdf(f"{name} {Document.objects.count()}"))
        paper = services.Paper(Document.Kind(kind), **said)
        item = self.item(name)
        return services.add(item.pk, paper, file, signature=self.sign(), lot_id=lot.pk if lot else None)

    def keep_table(self, table: str, text: str, *, name: str = "notebook.csv") -> WaitingTable:
        """A file of this text, read and waiting; cells stand between commas."""
        return import_service.keep(Import.Table(table), name, text.encode(), by=self.by, now=NOW)

    def bring_in(self, table: str, text: str, *, name: str = "notebook.csv") -> Import:
        """A file of this text, brought in as it was shown."""
        waiting = self.keep_table(table, text, name=name)
        plan = import_service.look(waiting, Studio.objects.get(), NOW)
        return import_service.bring_in(waiting, shown=plan.fingerprint, signature=self.sign())

    def complain(self, lot: Lot | None = None, *, at: datetime = NOW, **said) -> Complaint:
        """Somebody complains of a candle of this lot, or of a product whose code is lost."""
        fields = {"kind": "glass", "what": "It cracked while burning."} | said
        if lot:
            fields |= {"lot": lot, "item": lot.item, "batch": lot.outcome.batch}
        return complaining.take(signature=self.sign(at), **fields)

    def recall(self, *lots: Lot, at: datetime = NOW, drill: bool = False, **said) -> Recall:
        """Call back everything that carries some of these lots, or practise it."""
        words = {"why": "The wax may hold water and flare up."} | said
        return recalling.start([lot.pk for lot in lots], is_drill=drill, signature=self.sign(at), **words)

    def of(self, lot: Lot) -> tuple[int, int]:
        """What a lot holds now and what it is worth."""
        lot.refresh_from_db()
        return lot.on_hand, lot.value
