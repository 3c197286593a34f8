"""Burn tests: jars of one formula version burned cycle by cycle, and the limits they are held against."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from batches.models.formulas import FormulaVersion
from batches.models.production import Batch
from batches.querysets import BurnTestQuerySet
from studio.fields import ExactIntegerField
from studio.models import User


class Amount(models.TextChoices):
    """How much of something was seen: of soot, of carbon on the wick."""

    NONE = "none", "None"
    SLIGHT = "slight", "Slight"
    HEAVY = "heavy", "Heavy"


class BurnLimits(models.Model):
    """What a burn test must stay within, as the studio set it from a day on. Never changed; a new row replaces it.

    Lengths in µm, temperature in thousandths of a degree Celsius. None: not judged.
    """

    flame_um = ExactIntegerField("flame at most", null=True, blank=True)
    vessel_mc = ExactIntegerField("vessel at most", null=True, blank=True)
    soot = models.CharField("soot at most", max_length=6, choices=Amount.choices, default=Amount.SLIGHT)
    mushrooming = models.CharField(
        "mushrooming at most", max_length=6, choices=Amount.choices, default=Amount.SLIGHT
    )
    full_pool_within_minutes = models.PositiveIntegerField("full pool within", null=True, blank=True)
    cycles = models.PositiveSmallIntegerField("cycles at least", default=1)
    weight_asked = models.BooleanField("a weight after every cycle", default=False)
    photo_asked = models.BooleanField("a photo of every cycle", default=False)
    # The depth of wax at which a test ends, 0 when it is used up. None: limits of before, which asked for no end.
    wax_left_um = ExactIntegerField("a test ends with wax left of", null=True, blank=True)
    end_flame_um = ExactIntegerField("flame at the end at most", null=True, blank=True)
    end_vessel_mc = ExactIntegerField("vessel at the end at most", null=True, blank=True)
    # How far a version may differ from what was burned, in ppm of it: see batches/formulas/covering.py.
    # 5 %: common practice, no source.
    fill_tolerance_ppm = ExactIntegerField("fill may differ by", default=50_000)
    share_tolerance_ppm = ExactIntegerField("shares may differ by", default=50_000)
    set_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    set_at = models.DateTimeField()

    class Meta:
        ordering = ["-set_at", "-pk"]
        verbose_name_plural = "burn limits"

    def __str__(self) -> str:
        return f"limits of {self.set_at:%Y-%m-%d}"


class BurnTest(models.Model):
    """The recorded trial of one version: its vessel, wick and melt together, at its load and fill."""

    class State(models.TextChoices):
        """Where the test stands."""

        RUNNING = "running", "Burning"
        PASSED = "passed", "Passed"
        FAILED = "failed", "Failed"
        BROKEN_OFF = "broken_off", "Broken off"

    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="burn_tests")
    batch = models.ForeignKey(
        Batch, on_delete=models.PROTECT, related_name="burn_tests", null=True, blank=True
    )
    limits = models.ForeignKey(BurnLimits, on_delete=models.PROTECT, related_name="tests")
    state = models.CharField(max_length=10, choices=State.choices, default=State.RUNNING)
    cycle_minutes = models.PositiveIntegerField("minutes a cycle", default=240)
    plan = models.TextField("what is tested", blank=True, max_length=1000)
    started_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    decided_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    decided_at = models.DateTimeField(null=True, blank=True)
    verdict = models.CharField(max_length=300, blank=True)
    # What spoke against a pass when the owner gave it all the same, and why they did; a line for each sentence.
    lacked = models.TextField(blank=True)
    accepted_because = models.CharField(max_length=300, blank=True)

    objects = BurnTestQuerySet.as_manager()

    class Meta:
        ordering = ["-started_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="burn_test_decided_says_when", condition=Q(state="running") | Q(decided_at__isnull=False)
            ),
            models.CheckConstraint(
                name="burn_test_accepted_says_why", condition=Q(lacked="") | ~Q(accepted_because="")
            ),
        ]

    def __str__(self) -> str:
        return f"burn test {self.pk}"

    def get_absolute_url(self) -> str:
        """The test's page."""
        return reverse("batches:burn-detail", args=[self.pk])

    @property
    def is_running(self) -> bool:
        """Whether readings may still be added."""
        return self.state == self.State.RUNNING

    @property
    def tone(self) -> str:
        """The mark beside its state."""
        return {"running": "attention", "passed": "good", "failed": "problem"}.get(self.state, "plain")


class BurnJar(models.Model):
    """One candle of a burn test and what it weighed, vessel and all, before it was first lit."""

    test = models.ForeignKey(BurnTest, on_delete=models.PROTECT, related_name="jars")
    number = models.PositiveSmallIntegerField()
    start_ug = ExactIntegerField("weight before")
    melt_ug = ExactIntegerField("melt in it", null=True, blank=True)

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["test", "number"], name="burn_jar_number_once")]

    def __str__(self) -> str:
        return f"jar {self.number}"


class WentOut(models.TextChoices):
    """How a flame went out at the end of a candle's life."""

    PUT_OUT = "put_out", "Put out by hand"
    BY_ITSELF = "by_itself", "Went out by itself"
    FLARED = "flared", "Flared up"
    CRACKED = "cracked", "The vessel cracked"


class BurnReading(models.Model):
    """What one jar showed at the end of one cycle. Only ever added; a slip is struck out with a reason and read anew.

    Empty and None: not observed. Readings of before say "none" of soot and mushrooming where the form came with it; they
    stay as they were recorded, for nobody can tell which of them were seen.
    """

    class Kind(models.TextChoices):
        """The end of a candle's life is a cycle of its own kind, held against limits of its own."""

        CYCLE = "cycle", "Cycle"
        END = "end", "End of life"

    jar = models.ForeignKey(BurnJar, on_delete=models.PROTECT, related_name="readings")
    cycle = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=5, choices=Kind.choices, default=Kind.CYCLE)
    minutes = models.PositiveIntegerField()
    flame_um = ExactIntegerField("flame height", null=True, blank=True)
    pool_um = ExactIntegerField("pool across", null=True, blank=True)
    pool_depth_um = ExactIntegerField("pool depth", null=True, blank=True)
    full_pool_after = models.PositiveIntegerField("full pool after", null=True, blank=True)
    mushrooming = models.CharField(max_length=6, choices=Amount.choices, blank=True)
    soot = models.CharField(max_length=6, choices=Amount.choices, blank=True)
    vessel_mc = ExactIntegerField("vessel at its hottest", null=True, blank=True)
    weight_ug = ExactIntegerField("weight after", null=True, blank=True)
    wax_left_um = ExactIntegerField("wax left", null=True, blank=True)
    went_out = models.CharField("how it went out", max_length=9, choices=WentOut.choices, blank=True)
    note = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    struck_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    struck_at = models.DateTimeField(null=True, blank=True)
    struck_because = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["cycle", "jar", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["jar", "cycle"], condition=Q(struck_at__isnull=True), name="burn_cycle_read_once"
            ),
            models.CheckConstraint(name="burn_cycle_lasted", condition=Q(minutes__gt=0, cycle__gt=0)),
            models.CheckConstraint(
                name="burn_end_alone_says_how", condition=Q(kind="end") | Q(wax_left_um=None, went_out="")
            ),
        ]

    def __str__(self) -> str:
        return f"cycle {self.cycle}"


class StateChange(models.Model):
    """A version was approved, retired or put back to trial: by whom, when, why, and on which burn test.

    `missing` is what an approval lacked of what is asked for, in words; then the owner overrode it, and the reason
    says why.
    """

    version = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="state_changes")
    state = models.CharField(max_length=8, choices=FormulaVersion.State.choices)
    burn_test = models.ForeignKey(
        BurnTest, on_delete=models.PROTECT, related_name="approvals", null=True, blank=True
    )
    missing = models.CharField(max_length=500, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="approval_overridden_says_why", condition=Q(missing="") | ~Q(reason="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.state}: {self.reason}"


class BurnPhoto(models.Model):
    """A photo of a burn test: the pool, the soot, the glass. Only ever added.

    `data` is left out of every list: read it for one photo at a time.
    """

    test = models.ForeignKey(BurnTest, on_delete=models.PROTECT, related_name="photos")
    # Of which cycle, and of which jar; without a jar it shows all that burned in the cycle.
    cycle = models.PositiveSmallIntegerField(null=True, blank=True)
    jar = models.ForeignKey(BurnJar, on_delete=models.PROTECT, related_name="photos", null=True, blank=True)
    text = models.CharField("what it shows", max_length=200, blank=True)
    media_type = models.CharField(max_length=40)
    digest = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    data = models.BinaryField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.text or f"photo {self.pk}"
