"""What a product is made of and how, in numbered versions."""

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.urls import reverse

from batches.recipe import Basis, Recipe, RecipeLine
from inventory.models import Item, Kind, LoadBasis
from studio.core.percent import format_percent
from studio.fields import ExactIntegerField
from studio.models import User

# What is weighed into the pot even where it is given per unit: nobody weighs a dye into a single vessel.
MELTED_KINDS = (Kind.DYE, Kind.ADDITIVE)
# The same, asked of draws: what was weighed into the pot.
DRAWN_INTO_THE_POT = ~Q(line__basis=Basis.PER_UNIT.value) | Q(line__item__kind__in=MELTED_KINDS)

# A version's own figures: what a form asks, a copy takes over, and the database keeps as it is once it was used.
PROCESS = (
    "fill_ug",
    "declared_ug",
    "loss_ppm",
    "pot_ug",
    "division_ug",
    "heat_to_mc",
    "fragrance_at_mc",
    "stir_minutes",
    "pour_from_mc",
    "pour_to_mc",
    "rest_hours",
    "cure_days",
    "label_words",
    "notes",
)


class Formula(models.Model):
    """What one product or blend is made of and how, in numbered versions."""

    name = models.CharField(max_length=120)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="formulas", verbose_name="makes")
    retired = models.BooleanField(default=False)

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="formula_name_once",
                violation_error_message="A formula of this name exists already.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The formula's page."""
        return reverse("batches:formula-detail", args=[self.pk])


class FormulaVersion(models.Model):
    """One numbered version. Once a batch was planned from it, it never changes; the database refuses it."""

    class State(models.TextChoices):
        """How far a version has got. Trade words."""

        TRIAL = "trial", "Trial"
        APPROVED = "approved", "Approved"
        RETIRED = "retired", "Retired"

    formula = models.ForeignKey(Formula, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=8, choices=State.choices, default=State.TRIAL)
    fill_ug = ExactIntegerField("fill weight", null=True, blank=True)
    declared_ug = ExactIntegerField("declared net weight", null=True, blank=True)
    loss_ppm = ExactIntegerField("loss allowance", default=0)
    pot_ug = ExactIntegerField("pot takes", null=True, blank=True)
    division_ug = ExactIntegerField("scale's division", default=1_000_000)
    heat_to_mc = ExactIntegerField("heat to", null=True, blank=True)
    fragrance_at_mc = ExactIntegerField("add fragrance at", null=True, blank=True)
    pour_from_mc = ExactIntegerField("pour from", null=True, blank=True)
    pour_to_mc = ExactIntegerField("pour to", null=True, blank=True)
    stir_minutes = models.PositiveIntegerField("stir for", null=True, blank=True)
    rest_hours = models.PositiveIntegerField("rest before finishing", null=True, blank=True)
    cure_days = models.PositiveIntegerField("cure", default=0)
    label_words = models.TextField("also on the label", blank=True, max_length=600)
    notes = models.TextField("working notes", blank=True, max_length=2000)
    what_changed = models.CharField("what changed and why", max_length=300, blank=True)
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        ordering = ["formula", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["formula", "number"], name="formula_version_number_once"),
            models.CheckConstraint(
                name="formula_state_is_known", condition=Q(state__in=["trial", "approved", "retired"])
            ),
            models.CheckConstraint(
                name="pour_window_is_a_window",
                condition=Q(pour_from_mc__isnull=True)
                | Q(pour_to_mc__isnull=True)
                | Q(pour_from_mc__lte=F("pour_to_mc")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.formula}, version {self.number}"

    def get_absolute_url(self) -> str:
        """The version's page."""
        return reverse("batches:version-detail", args=[self.formula_id, self.number])

    def recipe(self) -> Recipe:
        """The version as plain figures for the arithmetic. Reads its lines."""
        return Recipe(
            lines=tuple(line.recipe_line() for line in self.lines.all()),
            fill_ug=self.fill_ug,
            loss_ppm=self.loss_ppm,
            pot_ug=self.pot_ug,
            division_ug=self.division_ug,
        )


class FormulaLine(models.Model):
    """One thing in a formula, on its basis: parts per million of wax or melt, or base units per unit made."""

    class BasisChoice(models.TextChoices):
        """What the amount is a share of, in words."""

        WAX_SHARE = Basis.WAX_SHARE.value, "share of the wax"
        OF_WAX = Basis.OF_WAX.value, "% of wax"
        OF_MELT = Basis.OF_MELT.value, "% of melt"
        PER_UNIT = Basis.PER_UNIT.value, "per unit"

    version = models.ForeignKey(FormulaVersion, on_delete=models.CASCADE, related_name="lines")
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="formula_lines")
    basis = models.CharField(max_length=9, choices=BasisChoice.choices)
    amount = ExactIntegerField()
    spare_ppm = ExactIntegerField(default=0)
    tolerance_ppm = ExactIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                name="formula_line_tolerance_is_a_share",
                condition=Q(tolerance_ppm__isnull=True) | Q(tolerance_ppm__gt=0, tolerance_ppm__lt=1_000_000),
            ),
            models.CheckConstraint(name="formula_line_has_an_amount", condition=Q(amount__gt=0)),
            models.CheckConstraint(name="formula_line_spare_not_negative", condition=Q(spare_ppm__gte=0)),
        ]

    def __str__(self) -> str:
        return f"{self.item}: {self.amount_words}"

    def recipe_line(self) -> RecipeLine:
        """The line as plain figures."""
        return RecipeLine(
            key=self.pk,
            item_id=self.item_id,
            name=self.item.name,
            basis=Basis(self.basis),
            amount=self.amount,
            spare_ppm=self.spare_ppm,
            is_fragrance=self.item.kind == Kind.FRAGRANCE,
            is_melted=self.item.kind in MELTED_KINDS,
            maximum_ppm=self.item.maximum_load_ppm,
            maximum_is_of_melt=self.item.maximum_load_basis == LoadBasis.OF_MELT,
            is_wax=self.item.kind == Kind.WAX,
        )

    @property
    def in_melt(self) -> bool:
        """Whether it is weighed into the pot, rather than set out with each unit."""
        return self.basis != Basis.PER_UNIT or self.item.kind in MELTED_KINDS

    @property
    def tolerance_words(self) -> str:
        """The tolerance as a share of the target; empty where it is one step of the scale."""
        return f"± {format_percent(self.tolerance_ppm, places=4)}" if self.tolerance_ppm else ""

    @property
    def amount_words(self) -> str:
        """The amount with its basis, for the eye."""
        if self.basis == Basis.PER_UNIT:
            spare = f", {format_percent(self.spare_ppm)} spare" if self.spare_ppm else ""
            return f"{self.item.quantity(self.amount)} per unit{spare}"
        share = format_percent(self.amount, places=4)
        return {
            Basis.WAX_SHARE: f"{share} of the wax",
            Basis.OF_WAX: f"{share} of wax",
            Basis.OF_MELT: f"{share} of melt",
        }[Basis(self.basis)]
