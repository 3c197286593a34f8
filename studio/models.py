"""The studio itself, the people in it, and the register of what was already submitted."""

from zoneinfo import available_timezones

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.urls import reverse

from studio.core.temperatures import Scale
from studio.fields import ExactIntegerField


class Role(models.TextChoices):
    """What a person may do. The owner does everything; the others are described beside each view."""

    OWNER = "owner", "Owner"
    MAKER = "maker", "Maker"
    BOOKKEEPER = "bookkeeper", "Bookkeeper"


class User(AbstractUser):
    """A person who signs in. People are never deleted, since the books carry their names; they are deactivated."""

    role = models.CharField(max_length=12, choices=Role.choices, default=Role.MAKER)
    costs_allowed = models.BooleanField(
        "sees costs",
        default=False,
        help_text="Lets a maker see what materials and candles cost. Owners and bookkeepers always do.",
    )

    class Meta:
        ordering = ["first_name", "username"]
        constraints = [
            models.CheckConstraint(name="user_role_is_known", condition=models.Q(role__in=Role.values)),
        ]

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    def get_absolute_url(self) -> str:
        """The page where the owner changes this person."""
        return reverse("person-change", args=[self.pk])

    @property
    def sees_costs(self) -> bool:
        """Whether prices, values and unit costs are shown to this person."""
        return self.role in {Role.OWNER, Role.BOOKKEEPER} or self.costs_allowed

    @property
    def makes(self) -> bool:
        """Whether this person changes stock and batches."""
        return self.role in {Role.OWNER, Role.MAKER}

    @property
    def keeps_books(self) -> bool:
        """Whether this person sets rates and other costs."""
        return self.role in {Role.OWNER, Role.BOOKKEEPER}


class Market(models.TextChoices):
    """Where the candles are sold, which decides whose rules their net contents and labels are held against."""

    EU = "eu", "Average system (EU)"
    GB = "gb", "Average system (Great Britain)"
    US = "us", "NIST Handbook 133 (US)"


class Studio(models.Model):
    """The one studio whose books these are: its name and how it likes figures shown."""

    class MassUnit(models.TextChoices):
        """The unit weights are shown in where an item does not name its own."""

        GRAM = "g", "grams (g)"
        KILOGRAM = "kg", "kilograms (kg)"
        OUNCE = "oz", "ounces (oz)"
        POUND = "lb", "pounds (lb)"

    class TemperatureUnit(models.TextChoices):
        """The unit temperatures are shown in."""

        CELSIUS = "C", "degrees Celsius (°C)"
        FAHRENHEIT = "F", "degrees Fahrenheit (°F)"

    class PageSize(models.TextChoices):
        """The sheet in the studio's printer."""

        A4 = "A4", "A4"
        LETTER = "Letter", "US Letter"

    name = models.CharField(max_length=80)
    currency = models.CharField(
        max_length=3, default="USD", help_text="Three letters, for example USD, EUR or GBP."
    )
    mass_unit = models.CharField("weights in", max_length=2, choices=MassUnit.choices, default=MassUnit.GRAM)
    temperature_unit = models.CharField(
        "temperatures in", max_length=1, choices=TemperatureUnit.choices, default=TemperatureUnit.CELSIUS
    )
    page_size = models.CharField("paper", max_length=6, choices=PageSize.choices, default=PageSize.A4)
    time_zone = models.CharField(max_length=64, default="UTC")
    market = models.CharField(
        "sold in",
        max_length=2,
        choices=[("eu", "European Union"), ("gb", "Great Britain"), ("us", "United States")],
        default=Market.EU,
        help_text="Decides the rules of net contents, the warning on the label, and whose rules on reporting a danger "
        "come first.",
    )
    telephone = models.CharField(
        "telephone on labels",
        max_length=40,
        blank=True,
        help_text="Printed with chemical hazard labeling, which names the supplier's telephone.",
    )
    address = models.TextField(
        "name and place on labels", blank=True, max_length=300, help_text="Who makes the candles, and where."
    )
    warning_words = models.TextField(
        "warning on the label", blank=True, max_length=1000, help_text="Empty: the usual text of the market."
    )

    unexplained_ppm = ExactIntegerField("may go unexplained", null=True, blank=True)

    # Reviewers of balances in other trades find 9 % too much and under 2 % fine: common practice, no source.
    USUALLY_UNEXPLAINED_PPM = 20_000

    class Meta:
        constraints = [
            models.CheckConstraint(name="one_studio", condition=models.Q(pk=1)),
            models.CheckConstraint(
                name="studio_unexplained_is_a_share",
                condition=models.Q(unexplained_ppm__isnull=True)
                | models.Q(unexplained_ppm__gte=0, unexplained_ppm__lte=1_000_000),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def place(self) -> tuple[str, ...]:
        """The lines of the address as on papers, without the name where it begins with it."""
        lines = [line.strip() for line in self.address.splitlines() if line.strip()]
        return tuple(line for line in lines if line != self.name)

    @property
    def unexplained_at_most_ppm(self) -> int:
        """How much of a mass balance may go unexplained before somebody is asked to look, as a share of what came."""
        return self.USUALLY_UNEXPLAINED_PPM if self.unexplained_ppm is None else self.unexplained_ppm

    @property
    def scale(self) -> Scale:
        """The unit of temperatures, "C" or "F"."""
        return "F" if self.temperature_unit == self.TemperatureUnit.FAHRENHEIT else "C"

    @staticmethod
    def time_zones() -> list[tuple[str, str]]:
        """Every time zone this machine knows, as choices."""
        names = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/"))
        return [("UTC", "UTC"), *((name, name.replace("_", " ")) for name in names)]


class LabelWarning(models.Model):
    """The warning on the label in one market, as the owner confirmed it. Only added to; the newest of a market counts."""

    market = models.CharField(max_length=2)
    words = models.TextField("warning on the label", max_length=1000)
    confirmed_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField()

    class Meta:
        ordering = ["-confirmed_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.market}, {self.confirmed_at:%Y-%m-%d}"


class Submission(models.Model):
    """A form that was accepted, by the key it was handed out with: one press, one posting."""

    key = models.UUIDField(primary_key=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    digest = models.CharField(max_length=64)
    result = models.CharField(max_length=300, blank=True)
    accepted_at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return str(self.key)


class Counter(models.Model):
    """The last number given to codes of one prefix. Its row is the lock that keeps codes unique and in order."""

    prefix = models.CharField(max_length=1, primary_key=True)
    last = ExactIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.prefix}{self.last}"
