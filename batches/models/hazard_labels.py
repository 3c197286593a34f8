"""Chemical hazard labeling of a finished candle, as it was taken from a supplier's document for one load."""

from fractions import Fraction

from django.db import models
from django.db.models import F, Q

from batches.models.formulas import FormulaVersion
from inventory.models import Document, Item
from studio.core.percent import WHOLE, format_percent
from studio.fields import ExactIntegerField
from studio.models import User

# The nine pictograms of the GHS (United Nations, Globally Harmonized System; CLP Annex V), with what they show.
PICTOGRAMS = (
    ("GHS01", "GHS01 exploding bomb"),
    ("GHS02", "GHS02 flame"),
    ("GHS03", "GHS03 flame over circle"),
    ("GHS04", "GHS04 gas cylinder"),
    ("GHS05", "GHS05 corrosion"),
    ("GHS06", "GHS06 skull and crossbones"),
    ("GHS07", "GHS07 exclamation mark"),
    ("GHS08", "GHS08 health hazard"),
    ("GHS09", "GHS09 environment"),
)


class HazardLabel(models.Model):
    """The label elements of one version at its load; CLP Article 17 lists them. Only added to, the newest counts.

    Nothing here is worked out: it is what the documents of its sources say for that load. `pictograms` are codes of
    the GHS with a space between. Supplier's name, address and telephone are the studio's, the quantity is the
    version's net weight. `none_needed` says that the document asks for no element at this load.
    """

    class Signal(models.TextChoices):
        """The signal word."""

        NONE = "", "None"
        WARNING = "warning", "Warning"
        DANGER = "danger", "Danger"

    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="hazard_labels")
    none_needed = models.BooleanField("the document asks for no label elements at this load", default=False)
    identifiers = models.TextField("product identifiers", blank=True, max_length=400)
    pictograms = models.CharField(max_length=60, blank=True)
    signal = models.CharField("signal word", max_length=7, choices=Signal.choices, blank=True)
    hazards = models.TextField("hazard statements", blank=True, max_length=600)
    precautions = models.TextField("precautionary statements", blank=True, max_length=1200)
    supplemental = models.TextField("supplemental information", blank=True, max_length=600)
    entered_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    entered_at = models.DateTimeField()

    class Meta:
        ordering = ["-entered_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="hazard_signal_is_known", condition=Q(signal__in=["", "warning", "danger"])
            ),
            models.CheckConstraint(
                name="hazard_label_says_something",
                condition=Q(none_needed=True, identifiers="", pictograms="", signal="", hazards="")
                | Q(none_needed=False) & ~Q(identifiers="", pictograms="", hazards="", supplemental=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.version}, {self.entered_at:%Y-%m-%d}"

    @property
    def words(self) -> str:
        """The elements as a label's lines, without the pictograms, which are pictures."""
        contains = f"Contains: {self.identifiers.strip()}" if self.identifiers.strip() else ""
        signal = self.get_signal_display().upper() if self.signal else ""
        parts = (signal, contains, self.hazards, self.precautions, self.supplemental)
        return "\n".join(part.strip() for part in parts if part.strip())


class HazardSource(models.Model):
    """A fragrance the label elements were taken for: its load both ways, exact, and the document it was read in.

    Loads are fractions, `of_wax_top / of_wax_bottom` of the wax and likewise of the melt.
    """

    label = models.ForeignKey(HazardLabel, on_delete=models.PROTECT, related_name="sources")
    fragrance = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+")
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")
    of_wax_top = ExactIntegerField()
    of_wax_bottom = ExactIntegerField()
    of_melt_top = ExactIntegerField()
    of_melt_bottom = ExactIntegerField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["label", "fragrance"], name="hazard_source_once"),
            models.CheckConstraint(
                name="hazard_load_is_a_share",
                condition=Q(of_wax_top__gt=0, of_wax_bottom__gt=0, of_melt_top__gt=0)
                & Q(of_melt_bottom__gte=F("of_melt_top")),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.fragrance}"

    @property
    def of_wax(self) -> Fraction:
        """Its load of the wax, exact."""
        return Fraction(self.of_wax_top, self.of_wax_bottom)

    @property
    def of_melt(self) -> Fraction:
        """Its load of the melt, exact."""
        return Fraction(self.of_melt_top, self.of_melt_bottom)

    @property
    def load_words(self) -> str:
        """The load both ways, for the eye."""
        return load_words(self.of_wax, self.of_melt)


def load_words(of_wax: Fraction, of_melt: Fraction) -> str:
    """A load both ways: "8 % of wax = 7.41 % of melt"."""
    return f"{format_percent(of_wax * WHOLE)} of wax = {format_percent(of_melt * WHOLE)} of melt"
