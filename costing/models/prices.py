"""Where goods are sold and for how much, and scents that are only thought of.

Terms and asked prices carry the day from which they hold and are only ever added, so that a change never rewrites what
was earned before.
"""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse

from batches.models import FormulaVersion
from inventory.models import Channel, Item, LoadBasis
from studio.core.numerals import decimal_text
from studio.fields import ExactIntegerField
from studio.models import User


class ChannelTerms(models.Model):
    """What selling in a channel takes from a day on; of two for one day the later one holds.

    Fees and shipping are for an order, or a market day, of `units_milli` thousandths of a piece.
    """

    class TaxTreatment(models.TextChoices):
        """Where sales tax or VAT stands."""

        NONE = "none", "none"
        INSIDE = "inside", "inside the price"
        ADDED = "added", "added to the price"

    channel = models.ForeignKey(Channel, on_delete=models.PROTECT, related_name="terms")
    from_on = models.DateField("from")
    percent_ppm = ExactIntegerField("percentage fees", default=0)
    fee_on_tax = models.BooleanField("fees are taken of the tax too", default=True)
    fixed_micros = ExactIntegerField("fixed fees of an order", default=0)
    shipping_micros = ExactIntegerField("shipping of an order", default=0)
    units_milli = ExactIntegerField("pieces in an order", default=1000)
    tax = models.CharField("tax", max_length=6, choices=TaxTreatment.choices, default=TaxTreatment.NONE)
    tax_ppm = ExactIntegerField("rate of tax", default=0)
    discount_ppm = ExactIntegerField("usual discount", default=0)
    discounted_ppm = ExactIntegerField("share sold at the discount", default=1_000_000)
    share_of = models.ForeignKey(
        Channel,
        on_delete=models.PROTECT,
        related_name="+",
        null=True,
        blank=True,
        verbose_name="share of the price in",
    )
    share_ppm = ExactIntegerField("share of that price", null=True, blank=True)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="terms_rates_are_possible",
                condition=Q(percent_ppm__gte=0, percent_ppm__lt=1_000_000)
                & Q(tax_ppm__gte=0, tax_ppm__lte=1_000_000)
                & Q(discount_ppm__gte=0, discount_ppm__lt=1_000_000)
                & Q(discounted_ppm__gte=0, discounted_ppm__lte=1_000_000),
            ),
            models.CheckConstraint(
                name="terms_fees_not_negative", condition=Q(fixed_micros__gte=0, shipping_micros__gte=0)
            ),
            models.CheckConstraint(name="terms_order_holds_something", condition=Q(units_milli__gt=0)),
            models.CheckConstraint(
                name="terms_tax_is_known", condition=Q(tax__in=("none", "inside", "added"))
            ),
            models.CheckConstraint(
                name="terms_share_is_of_a_channel",
                condition=Q(share_of__isnull=True, share_ppm__isnull=True)
                | Q(share_of__isnull=False, share_ppm__gt=0, share_ppm__lte=1_000_000),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.channel_id} from {self.from_on}"

    @property
    def units_words(self) -> str:
        """Pieces in an order, or in a day, for the eye."""
        pieces = decimal_text(self.units_milli, 3)
        return f"{pieces} piece" if pieces == "1" else f"{pieces} pieces"


class AskedPrice(models.Model):
    """What is asked for a product in a channel from a day on; without a price it is no longer sold there."""

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="asked_prices")
    channel = models.ForeignKey(Channel, on_delete=models.PROTECT, related_name="asked_prices")
    from_on = models.DateField("from")
    price_micros = ExactIntegerField("price", null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="asked_price_above_zero", condition=Q(price_micros__isnull=True) | Q(price_micros__gt=0)
            )
        ]
        indexes = [
            # "What is asked for each product in each channel on a day?": the prices page, the list, earnings.
            models.Index(fields=["item", "channel", "-from_on"], name="asked_price_by_day")
        ]

    def __str__(self) -> str:
        return f"{self.item_id} in {self.channel_id} from {self.from_on}"


class PriceRounding(models.Model):
    """The price points this studio asks; one row. It shapes suggestions alone, so it needs no day."""

    class Way(models.TextChoices):
        """How a suggestion is put on a price point."""

        NONE = "none", "up to the smallest coin"
        UP = "up", "up to the next price point"
        NEAREST = "nearest", "to the nearest price point"

    way = models.CharField(max_length=8, choices=Way.choices, default=Way.NONE)
    step_micros = ExactIntegerField(default=1_000_000)
    endings = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.CheckConstraint(name="price_rounding_once", condition=Q(id=1)),
            models.CheckConstraint(name="price_rounding_has_a_step", condition=Q(step_micros__gt=0)),
        ]

    def __str__(self) -> str:
        return self.get_way_display()


class Scenario(models.Model):
    """A product that is only thought of: a formula version with another scent, load, vessel or finish.

    Its own parts stand in ScenarioPart, what was quoted in ScenarioQuote, what developing it takes in ScenarioExpense.
    Kept as it was entered; another is made out of it rather than changing it. `minutes` of hands are thousandths.
    """

    name = models.CharField(max_length=120)
    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="scenarios")
    fragrance = models.ForeignKey(
        Item, on_delete=models.PROTECT, related_name="scenarios", null=True, blank=True
    )
    fragrance_name = models.CharField(max_length=120, blank=True)
    load_ppm = ExactIntegerField(null=True, blank=True)
    load_basis = models.CharField(max_length=8, choices=LoadBasis.choices, default=LoadBasis.OF_WAX)
    fill_ug = ExactIntegerField()
    first_units = models.PositiveIntegerField()
    run_units = models.PositiveIntegerField()
    year_units = models.PositiveIntegerField()
    run_minutes_milli = ExactIntegerField(null=True, blank=True)
    unit_minutes_milli = ExactIntegerField(null=True, blank=True)
    channel = models.ForeignKey(Channel, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    price_micros = ExactIntegerField(null=True, blank=True)
    note = models.TextField(blank=True, max_length=2000)
    put_away = models.BooleanField(default=False)
    made = models.ForeignKey(
        FormulaVersion, on_delete=models.PROTECT, related_name="thought_of_as", null=True, blank=True
    )
    kept_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    kept_at = models.DateTimeField()

    class Meta:
        ordering = ["-kept_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="scenario_name_once",
                violation_error_message="A scenario of this name exists already.",
            ),
            models.CheckConstraint(
                name="scenario_figures_are_possible",
                condition=Q(fill_ug__gt=0, first_units__gt=0, run_units__gt=0, year_units__gt=0)
                & (Q(load_ppm__isnull=True) | Q(load_ppm__gt=0, load_ppm__lt=1_000_000))
                & (Q(run_minutes_milli__isnull=True) | Q(run_minutes_milli__gte=0))
                & (Q(unit_minutes_milli__isnull=True) | Q(unit_minutes_milli__gte=0))
                & (Q(price_micros__isnull=True) | Q(price_micros__gt=0)),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The scenario's page."""
        return reverse("costing:scenario-detail", args=[self.pk])


class ScenarioPart(models.Model):
    """What goes with each unit of a scenario, in the item's base unit."""

    scenario = models.ForeignKey(Scenario, on_delete=models.PROTECT, related_name="parts")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    amount = ExactIntegerField()
    spare_ppm = ExactIntegerField(default=0)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="scenario_part_has_an_amount", condition=Q(amount__gt=0, spare_ppm__gte=0)
            )
        ]

    def __str__(self) -> str:
        return f"{self.item_id}: {self.amount}"


class ScenarioQuote(models.Model):
    """What somebody asks for a pack of the scenario's fragrance, from so many packs on."""

    scenario = models.ForeignKey(Scenario, on_delete=models.PROTECT, related_name="quotes")
    pack_quantity = ExactIntegerField()
    typed_pack = models.CharField(max_length=60)
    from_packs = models.PositiveIntegerField(default=1)
    price_micros = ExactIntegerField()

    class Meta:
        ordering = ["pack_quantity", "from_packs", "pk"]
        constraints = [
            models.CheckConstraint(
                name="scenario_quote_is_a_price",
                condition=Q(pack_quantity__gt=0, from_packs__gt=0, price_micros__gt=0),
            ),
            models.UniqueConstraint(
                name="scenario_quote_once", fields=["scenario", "pack_quantity", "from_packs"]
            ),
        ]

    def __str__(self) -> str:
        return f"{self.typed_pack} from {self.from_packs}"


class ScenarioExpense(models.Model):
    """What developing a scenario takes: so many test pours, burn tests or certificates at a price each."""

    class Kind(models.TextChoices):
        """What is paid for."""

        POUR = "pour", "Test pours"
        BURN = "burn", "Burn tests"
        CERTIFICATE = "certificate", "Certificates"
        OTHER = "other", "Other"

    scenario = models.ForeignKey(Scenario, on_delete=models.PROTECT, related_name="expenses")
    kind = models.CharField(max_length=11, choices=Kind.choices)
    words = models.CharField("what", max_length=120, blank=True)
    number = models.PositiveIntegerField("how many", default=1)
    each_micros = ExactIntegerField("each")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="scenario_expense_is_a_sum", condition=Q(number__gt=0, each_micros__gte=0)
            ),
            models.CheckConstraint(
                name="scenario_expense_kind_is_known",
                condition=Q(kind__in=("pour", "burn", "certificate", "other")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} × {self.get_kind_display()}"

    @property
    def total(self) -> int:
        """All of them, in millionths."""
        return self.number * self.each_micros
