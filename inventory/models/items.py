"""What is kept in stock, and who sells it."""

from fractions import Fraction

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse

from inventory.querysets import ItemQuerySet
from studio.core.numerals import decimal_text
from studio.core.quantities import Dimension, format_quantity
from studio.fields import ExactIntegerField


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
    minimum_order = ExactIntegerField("least it takes an order for", null=True, blank=True)
    freight_per_order = ExactIntegerField("freight of an order", null=True, blank=True)
    free_freight_from = ExactIntegerField("sends free from", null=True, blank=True)
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


def wrong_unit(kind: str, dimension: Dimension) -> str:
    """Why things of a kind cannot be kept by a dimension, as a sentence; empty where they can."""
    if kind in RAW_KINDS and dimension is not Dimension.MASS:
        return "Wax, fragrance, dye and additives are weighed. Choose a unit of weight."
    if kind in {Kind.WICK, Kind.VESSEL, Kind.LID, Kind.LABEL} and dimension is Dimension.MASS:
        return "Wicks, vessels, lids and labels are counted or measured. Choose each, or a length."
    if kind == Kind.FINISHED and dimension is not Dimension.COUNT:
        return "Finished goods are counted. Choose each."
    return ""


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
    certificate_on = models.DateField("IFRA certificate dated", null=True, blank=True)
    certificate_amendment = models.CharField("IFRA amendment", max_length=20, blank=True)
    service_ppm = ExactIntegerField("service level", null=True, blank=True)
    room_for = ExactIntegerField("room for", null=True, blank=True)
    no_longer_bought = models.BooleanField(default=False)
    replaced_by = models.ForeignKey(
        "self", on_delete=models.SET_NULL, related_name="replaces", null=True, blank=True
    )
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
            models.CheckConstraint(
                name="item_service_level_is_possible",
                condition=Q(service_ppm__isnull=True) | Q(service_ppm__gte=500_000, service_ppm__lte=999_900),
            ),
            models.CheckConstraint(
                name="item_has_room_for_something",
                condition=Q(room_for__isnull=True) | Q(room_for__gt=0),
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
    def needs_safety_sheet(self) -> bool:
        """Whether a safety data sheet should lie beside it: what is melted and was bought."""
        return self.kind in RAW_KINDS and not self.made_here

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

    def share_quantity(self, amount: Fraction) -> str:
        """A quantity worked out by share, to the nearest base unit; pieces to a hundredth."""
        if self.dimension is Dimension.COUNT and amount.denominator != 1:
            return decimal_text(round(amount * 100), 2)
        return self.quantity(round(amount))
