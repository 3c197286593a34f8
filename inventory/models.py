"""What is kept in stock, where it came from, and the books that say where it went."""

from datetime import date

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.urls import reverse

from inventory.querysets import (
    ItemQuerySet,
    LateCostQuerySet,
    LotQuerySet,
    MovementQuerySet,
    PeriodCostQuerySet,
    PostingQuerySet,
)
from studio.codes import spaced
from studio.fields import ExactIntegerField
from studio.models import User
from studio.quantities import Dimension, format_quantity


class Supplier(models.Model):
    """Who sells to the studio."""

    name = models.CharField(max_length=120)
    contact = models.CharField(max_length=120, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    lead_days = models.PositiveIntegerField(
        "stated lead time",
        null=True,
        blank=True,
        help_text="Days from order to delivery, as the supplier says.",
    )
    notes = models.TextField(blank=True, max_length=2000)

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="supplier_name_once",
                violation_error_message="A supplier of this name exists already.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The supplier's page."""
        return reverse("inventory:supplier-detail", args=[self.pk])


class Kind(models.TextChoices):
    """What an item is. The kind decides under which cost head it falls."""

    WAX = "wax", "Wax"
    FRAGRANCE = "fragrance", "Fragrance"
    DYE = "dye", "Dye"
    ADDITIVE = "additive", "Additive"
    WICK = "wick", "Wick"
    VESSEL = "vessel", "Vessel"
    LID = "lid", "Lid"
    LABEL = "label", "Label"
    PACKAGING = "packaging", "Packaging"
    FINISHED = "finished", "Finished good"


RAW_KINDS = (Kind.WAX, Kind.FRAGRANCE, Kind.DYE, Kind.ADDITIVE)
COMPONENT_KINDS = (Kind.WICK, Kind.VESSEL, Kind.LID, Kind.LABEL, Kind.PACKAGING)

# The largest single quantity a small studio would expect, where the item does not say its own: a slip of the
# unit (a tonne of dye) is asked about once. Common practice, no source. Base units: µg, each, µm.
EXPECTED_AT_MOST = {
    Kind.WAX: 2_000_000_000_000,
    Kind.FRAGRANCE: 250_000_000_000,
    Kind.DYE: 10_000_000_000,
    Kind.ADDITIVE: 50_000_000_000,
}
EXPECTED_COUNT_AT_MOST = 50_000
EXPECTED_LENGTH_AT_MOST = 10_000_000_000


class Unit(models.TextChoices):
    """The unit an item is shown and typed in; it fixes whether the item is kept by mass, count or length."""

    GRAM = "g", "grams (g)"
    KILOGRAM = "kg", "kilograms (kg)"
    OUNCE = "oz", "ounces (oz)"
    POUND = "lb", "pounds (lb)"
    EACH = "each", "each (counted)"
    METRE = "m", "metres (m)"
    CENTIMETRE = "cm", "centimetres (cm)"
    INCH = "in", "inches (in)"
    FOOT = "ft", "feet (ft)"


DIMENSION_OF = {
    **dict.fromkeys((Unit.GRAM, Unit.KILOGRAM, Unit.OUNCE, Unit.POUND), Dimension.MASS),
    Unit.EACH: Dimension.COUNT,
    **dict.fromkeys((Unit.METRE, Unit.CENTIMETRE, Unit.INCH, Unit.FOOT), Dimension.LENGTH),
}


class LoadBasis(models.TextChoices):
    """What a maximum load is a share of. A figure without its basis is the classic mistake."""

    OF_WAX = "of_wax", "of wax"
    OF_MELT = "of_melt", "of melt"


class Item(models.Model):
    """Anything kept in stock, by one base unit: micrograms, each or micrometres."""

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    made_here = models.BooleanField(
        "made here", default=False, help_text="A blend: made in one batch here and used in another."
    )
    unit = models.CharField("shown in", max_length=4, choices=Unit.choices, default=Unit.GRAM)
    place = models.CharField(
        "usual place", max_length=60, blank=True, help_text="Where new lots go, for example Shelf B2."
    )
    expected_at_most = ExactIntegerField(null=True, blank=True)
    shelf_life_days = models.PositiveIntegerField(
        "shelf life", null=True, blank=True, help_text="Days from arrival, when a delivery states no date."
    )
    density_ug_per_ml = ExactIntegerField(null=True, blank=True)
    flash_point_mc = ExactIntegerField(null=True, blank=True)
    maximum_load_ppm = ExactIntegerField(null=True, blank=True)
    maximum_load_basis = models.CharField(max_length=8, choices=LoadBasis.choices, blank=True)
    notes = models.TextField(blank=True, max_length=2000)
    retired = models.BooleanField(
        default=False, help_text="Kept in the books and no longer offered in forms."
    )

    objects = ItemQuerySet.as_manager()

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="item_name_once",
                violation_error_message="An item of this name exists already.",
            ),
            models.CheckConstraint(name="item_kind_is_known", condition=Q(kind__in=Kind.values)),
            models.CheckConstraint(name="item_unit_is_known", condition=Q(unit__in=Unit.values)),
            models.CheckConstraint(
                name="item_maximum_load_names_its_basis",
                condition=Q(maximum_load_ppm__isnull=True) | ~Q(maximum_load_basis=""),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The item's page."""
        return reverse("inventory:item-detail", args=[self.pk])

    @property
    def dimension(self) -> Dimension:
        """Mass, count or length."""
        return DIMENSION_OF[Unit(self.unit)]

    @property
    def kind_words(self) -> str:
        """The kind in words; a blend says so."""
        return f"{self.get_kind_display()} blend" if self.made_here else self.get_kind_display()

    @property
    def plausible_limit(self) -> int:
        """The largest quantity taken without a question, in base units."""
        if self.expected_at_most is not None:
            return self.expected_at_most
        if self.dimension is Dimension.MASS:
            return EXPECTED_AT_MOST.get(Kind(self.kind), EXPECTED_AT_MOST[Kind.WAX])
        return EXPECTED_COUNT_AT_MOST if self.dimension is Dimension.COUNT else EXPECTED_LENGTH_AT_MOST

    def quantity(self, amount: int) -> str:
        """A quantity of this item as text in its own unit."""
        return format_quantity(amount, self.unit)


class Delivery(models.Model):
    """One arrival of goods: who sent it, on which paper, and what carriage cost."""

    class Spread(models.TextChoices):
        """How freight and duty are shared over the lines."""

        VALUE = "value", "by what the lines cost"
        WEIGHT = "weight", "by weight (every line must be weighed)"

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="deliveries")
    reference = models.CharField("invoice or delivery note", max_length=60, blank=True)
    freight = ExactIntegerField(default=0)
    spread = models.CharField(max_length=6, choices=Spread.choices, default=Spread.VALUE)
    posting = models.OneToOneField("Posting", on_delete=models.PROTECT, related_name="delivery")

    class Meta:
        ordering = ["-pk"]
        constraints = [models.CheckConstraint(name="freight_is_not_negative", condition=Q(freight__gte=0))]

    def __str__(self) -> str:
        return self.reference or f"Delivery {self.pk}"

    def get_absolute_url(self) -> str:
        """The delivery's page."""
        return reverse("inventory:delivery-detail", args=[self.pk])


class DeliveryLine(models.Model):
    """One line of the supplier's invoice, as it was typed and as it was understood."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="delivery_lines")
    packs = models.PositiveIntegerField(default=1)
    pack_quantity = ExactIntegerField()
    typed_quantity = models.CharField(max_length=60)
    typed_price = models.CharField(max_length=60)
    goods_value = ExactIntegerField()
    freight_value = ExactIntegerField(default=0)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.packs} × {self.typed_quantity}"

    @property
    def quantity(self) -> int:
        """Everything on the line, in the item's base unit."""
        return self.packs * self.pack_quantity

    @property
    def landed_value(self) -> int:
        """Price plus the line's share of freight, in millionths."""
        return self.goods_value + self.freight_value


class LateCost(models.Model):
    """Freight or duty billed after its delivery, or a credit for it (below zero). Why: the reason of its posting."""

    delivery = models.ForeignKey(Delivery, on_delete=models.PROTECT, related_name="late_costs")
    posting = models.OneToOneField("Posting", on_delete=models.PROTECT, related_name="late_cost")
    amount = ExactIntegerField()
    spread = models.CharField(max_length=6, choices=Delivery.Spread.choices)
    reference = models.CharField("invoice or credit note", max_length=60, blank=True)

    objects = LateCostQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(name="late_cost_is_not_nothing", condition=~Q(amount=0))]

    def __str__(self) -> str:
        return self.reference or f"Billed later {self.pk}"


class Grade(models.TextChoices):
    """First quality or seconds. Bought goods are always first quality."""

    FIRST = "first", "First quality"
    SECOND = "second", "Seconds"


class Lot(models.Model):
    """A quantity of one item from one delivery, decanting or batch, with its own code, cost and history.

    `on_hand` and `value` are cached from the movements; only `inventory.books` writes them and
    `manage.py check_books` proves them.
    """

    code = models.CharField(max_length=12, unique=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="lots")
    grade = models.CharField(max_length=6, choices=Grade.choices, default=Grade.FIRST)
    supplier = models.ForeignKey(
        Supplier, on_delete=models.PROTECT, related_name="lots", null=True, blank=True
    )
    supplier_lot = models.CharField("supplier's lot", max_length=60, blank=True)
    delivery_line = models.ForeignKey(
        DeliveryLine, on_delete=models.PROTECT, related_name="lots", null=True, blank=True
    )
    arrived_at = models.DateTimeField()
    expires_on = models.DateField("expires", null=True, blank=True)
    ready_on = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=60, blank=True)
    container = models.CharField(
        max_length=40, blank=True, help_text="What it stands in, for example jar 3 or 25 lb pail."
    )
    tare_ug = ExactIntegerField("tare", null=True, blank=True)
    opened_on = models.DateField("opened", null=True, blank=True)
    held = models.BooleanField(default=False)
    on_hand = ExactIntegerField(default=0)
    value = ExactIntegerField(default=0)

    objects = LotQuerySet.as_manager()

    class Meta:
        ordering = ["-arrived_at", "-pk"]
        constraints = [
            models.CheckConstraint(name="lot_never_below_zero", condition=Q(on_hand__gte=0)),
            models.CheckConstraint(name="lot_value_never_below_zero", condition=Q(value__gte=0)),
            models.CheckConstraint(
                name="empty_lot_is_worth_nothing", condition=Q(on_hand__gt=0) | Q(value=0)
            ),
        ]
        indexes = [
            # "What is on the shelf of this item, oldest first?": item pages, suggestions, planning.
            models.Index(fields=["item", "expires_on"], condition=Q(on_hand__gt=0), name="lot_on_shelf"),
            # "Which lots came last?": the list of lots.
            models.Index(fields=["arrived_at", "id"], name="lot_arrived_at"),
            # "Which lots carry this supplier's lot number?": the search box and a supplier's recall notice.
            models.Index(fields=["supplier_lot"], condition=~Q(supplier_lot=""), name="lot_by_supplier_lot"),
        ]

    def __str__(self) -> str:
        return self.code

    def get_absolute_url(self) -> str:
        """The lot's page."""
        return reverse("inventory:lot-detail", args=[self.code])

    @property
    def spaced_code(self) -> str:
        """The code in groups of three, as it is written on the jar."""
        return spaced(self.code)

    def expired(self, on: date) -> bool:
        """Whether the lot may no longer be used on this day; its last good day is the expiry date itself."""
        return self.expires_on is not None and self.expires_on < on

    def state(self, on: date) -> tuple[str, str]:
        """Tone and word for the lot's condition on a day."""
        if self.on_hand == 0:
            return "plain", "Used up"
        if self.held:
            return "problem", "On hold"
        if self.expired(on):
            return "problem", "Expired"
        if self.ready_on and self.ready_on > on:
            return "attention", "Curing"
        return "good", "Free to use"


class Reason(models.Model):
    """A short reason for taking stock out or putting it right, from the list the studio keeps."""

    class Kind(models.TextChoices):
        """What the reason is for; the same words as the posting it stands under."""

        SCRAP = "scrap", "Scrap"
        SAMPLE = "sample", "Sample"
        SENT_BACK = "sent_back", "Back to supplier"
        FOUND = "found", "Found"
        CORRECTION = "correction", "Quantity put right"

    kind = models.CharField(max_length=12, choices=Kind.choices)
    words = models.CharField(max_length=80)
    retired = models.BooleanField(
        default=False, help_text="Stays on what was posted and is no longer offered."
    )

    class Meta:
        ordering = ["kind", Lower("words")]
        constraints = [
            models.UniqueConstraint(
                "kind",
                Lower("words"),
                name="reason_words_once",
                violation_error_message="This reason is on the list already.",
            )
        ]

    def __str__(self) -> str:
        return self.words


class HoldRecord(models.Model):
    """A lot was put on hold or released: by whom, when and why."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="hold_records")
    held = models.BooleanField()
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{'held' if self.held else 'released'}: {self.reason}"


class LotChange(models.Model):
    """Something written on a lot was put right: its place, its expiry, the supplier's number. Never the books."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="changes")
    what = models.CharField(max_length=30)
    before = models.CharField(max_length=80, blank=True)
    after = models.CharField(max_length=80, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.what}: {self.before} → {self.after}"


class Posting(models.Model):
    """One event in the stock books: who, when, why. Never changed; a mistake is reversed."""

    class Kind(models.TextChoices):
        """What happened."""

        RECEIPT = "receipt", "Receipt"
        DECANT = "decant", "Decanting"
        DRAW = "draw", "Draw"
        YIELD = "yield", "Yield"
        DISPATCH = "dispatch", "Dispatch"
        SCRAP = "scrap", "Scrap"
        SAMPLE = "sample", "Sample"
        SENT_BACK = "sent_back", "Back to supplier"
        FOUND = "found", "Found"
        CORRECTION = "correction", "Quantity put right"
        REVALUATION = "revaluation", "Cost correction"
        REVERSAL = "reversal", "Reversal"

    kind = models.CharField(max_length=12, choices=Kind.choices)
    happened_at = models.DateTimeField()
    recorded_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="postings")
    reason = models.CharField(max_length=300, blank=True)
    reverses = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="reversal", null=True, blank=True
    )

    objects = PostingQuerySet.as_manager()

    class Meta:
        ordering = ["-happened_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="posting_not_before_it_happened", condition=Q(happened_at__lte=F("recorded_at"))
            ),
            models.CheckConstraint(
                name="posting_reversal_names_what_it_reverses",
                condition=Q(kind="reversal", reverses__isnull=False)
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
            ),
        ]
        indexes = [
            # "What happened lately, and what were things worth on that day?": the books and valuation.
            models.Index(fields=["happened_at", "id"], name="posting_happened_at"),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.pk}"

    def get_absolute_url(self) -> str:
        """The posting's page."""
        return reverse("inventory:posting-detail", args=[self.pk])


class Movement(models.Model):
    """One line of a posting: a lot, a signed quantity in base units, a signed value in millionths."""

    class Kind(models.TextChoices):
        """Where the quantity came from or went. A reversal keeps the kind and turns the sign."""

        RECEIVED = "received", "Received"
        MADE = "made", "Made"
        FOUND = "found", "Found"
        DECANTED = "decanted", "Decanted"
        DRAWN = "drawn", "Drawn"
        DISPATCHED = "dispatched", "Dispatched"
        SCRAPPED = "scrapped", "Scrapped"
        SAMPLED = "sampled", "Sampled"
        SENT_BACK = "sent_back", "Sent back"
        CORRECTED = "corrected", "Put right"
        REVALUED = "revalued", "Cost corrected"

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="movements")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements", db_index=False)
    kind = models.CharField(max_length=10, choices=Kind.choices)
    quantity = ExactIntegerField()
    value = ExactIntegerField()

    objects = MovementQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="movement_moves_something", condition=~Q(quantity=0) | ~Q(value=0))
        ]
        indexes = [
            # "What happened to this lot?": its page, its running balance, tracing and check_books.
            models.Index(fields=["lot", "posting"], name="movement_of_lot"),
            # "Which postings booked stock as found?": what waits to be looked at on the Today page.
            models.Index(fields=["posting"], condition=Q(kind="found"), name="movement_found"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.quantity}"


class PeriodCost(models.Model):
    """The part of a cost correction that no stock is left to carry: a cost of the period, tied to its lot."""

    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="period_costs")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="period_costs")
    value = ExactIntegerField()

    objects = PeriodCostQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return str(self.value)


class Review(models.Model):
    """Somebody looked at a posting that was flagged, such as a draw of more than the books held."""

    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="review")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"looked at by {self.by_id}"


class Commitment(models.Model):
    """Stock that a planned batch or an order will need, by date. `source` is the code of what needs it."""

    source = models.CharField(max_length=40, db_index=True)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="commitments")
    quantity = ExactIntegerField()
    needed_on = models.DateField()

    class Meta:
        ordering = ["needed_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["source", "item"], name="commitment_once_per_source_and_item"),
            models.CheckConstraint(name="commitment_is_positive", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.source}: {self.quantity}"


class Dispatch(models.Model):
    """Goods leaving: to a customer, a market, an event, or as a sample."""

    posting = models.OneToOneField(Posting, on_delete=models.PROTECT, related_name="dispatch")
    to = models.CharField("to", max_length=120)
    channel = models.CharField(max_length=60, blank=True)
    reference = models.CharField("order reference", max_length=60, blank=True)

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.to


class LabelLayout(models.Model):
    """Where labels lie on the paper the studio prints them on, in micrometres; see `inventory.labels.Layout`."""

    name = models.CharField(max_length=60)
    page_width_um = ExactIntegerField("page width")
    page_height_um = ExactIntegerField("page height")
    rows = models.PositiveSmallIntegerField(default=1)
    columns = models.PositiveSmallIntegerField(default=1)
    left_um = ExactIntegerField("left margin", default=0)
    top_um = ExactIntegerField("top margin", default=0)
    label_width_um = ExactIntegerField("label width")
    label_height_um = ExactIntegerField("label height")
    gap_x_um = ExactIntegerField("gap across", default=0)
    gap_y_um = ExactIntegerField("gap down", default=0)
    is_default = models.BooleanField("usual", default=False)
    retired = models.BooleanField(default=False, help_text="Kept and no longer offered for printing.")

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="label_layout_name_once",
                violation_error_message="A layout of this name exists already.",
            ),
            models.UniqueConstraint(
                fields=["is_default"], condition=Q(is_default=True), name="label_layout_one_usual"
            ),
            models.CheckConstraint(
                name="label_layout_has_labels",
                condition=Q(rows__gte=1, columns__gte=1, label_width_um__gt=0, label_height_um__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The layout's page."""
        return reverse("inventory:label-layout-change", args=[self.pk])
