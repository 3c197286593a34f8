"""Recalls, and drills of one: what a suspect lot touched at a moment, who has it, and what came back."""

from datetime import datetime, timedelta

from django.db import models
from django.db.models import Q
from django.urls import reverse

from batches.models.complaints import Complaint
from batches.models.production import Batch
from batches.querysets import RecallAnswerQuerySet
from inventory.models import Channel, Customer, Dispatch, Item, Lot
from inventory.models.dispatches import party_called
from studio.core.codes import spaced
from studio.fields import ExactIntegerField
from studio.models import User


class Recall(models.Model):
    """A recall of everything that carries a suspect lot, or a drill of one, which holds nothing.

    `batches.recalls.recalling` is the only writer. From `started_at` to `ended_at` runs the clock.
    """

    class State(models.TextChoices):
        """Where it stands."""

        OPEN = "open", "Open"
        CLOSED = "closed", "Closed"

    code = models.CharField(max_length=12, unique=True)
    is_drill = models.BooleanField(default=False)
    why = models.TextField(max_length=1000)
    advice = models.TextField(blank=True, max_length=1000)
    complaint = models.ForeignKey(
        Complaint, on_delete=models.PROTECT, related_name="recalls", null=True, blank=True
    )
    state = models.CharField(max_length=6, choices=State.choices, default=State.OPEN)
    started_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    started_at = models.DateTimeField()
    ended_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    finding = models.TextField(blank=True, max_length=2000)

    class Meta:
        ordering = ["-started_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="recall_closed_says_when",
                condition=Q(state="closed", ended_at__isnull=False) | Q(state="open", ended_at__isnull=True),
            ),
        ]
        indexes = [
            # "Which recalls are still open?": Today and the list.
            models.Index(fields=["state", "started_at"], name="recall_by_state"),
        ]

    def __str__(self) -> str:
        return self.spaced_code

    def get_absolute_url(self) -> str:
        """The recall's page."""
        return reverse("batches:recall-detail", args=[self.code])

    @property
    def spaced_code(self) -> str:
        """The code in groups of three."""
        return spaced(self.code)

    @property
    def kind_words(self) -> str:
        """What it is: "Recall" or "Mock recall"."""
        return "Mock recall" if self.is_drill else "Recall"

    @property
    def title_words(self) -> str:
        """What it is, at the head of whatever may be printed or leave the house: a drill's cannot be taken for a recall."""
        return f"DRILL: {self.kind_words}" if self.is_drill else self.kind_words

    @property
    def code_words(self) -> str:
        """The code as tables carry it in every row; a drill's says what it is."""
        return f"DRILL {self.code}" if self.is_drill else self.code

    @property
    def file_name(self) -> str:
        """How files of it begin."""
        return f"{'DRILL-' if self.is_drill else ''}recall-{self.code}"

    @property
    def is_open(self) -> bool:
        """Whether something may still be entered."""
        return self.state == self.State.OPEN

    @property
    def tone(self) -> str:
        """The mark beside its state."""
        return "good" if not self.is_open else "attention" if self.is_drill else "problem"

    def ran(self, now: datetime) -> timedelta:
        """How long the clock ran, to its end or to `now`."""
        return (self.ended_at or now) - self.started_at


class RecallStep(models.Model):
    """A look at the books: the first froze what the suspect lots touched, each later one what had become affected since."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveSmallIntegerField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["recall", "number"]
        constraints = [models.UniqueConstraint(fields=["recall", "number"], name="recall_step_once")]

    def __str__(self) -> str:
        return f"step {self.number}"


class RecallLot(models.Model):
    """An affected lot as it stood at that moment, in base units; `suspect` are those the recall began with.

    `came` is all that was there, however it was counted; it is what `used`, `decanted`, `sent`, `lost` and `on_hand` add
    up to, and `unexplained` where they do not. `held_before`: it was on hold already; `held_now`: this step held it.
    """

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="lots")
    step = models.ForeignKey(RecallStep, on_delete=models.PROTECT, related_name="lots")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="recalled")
    suspect = models.BooleanField(default=False)
    came = ExactIntegerField()
    used = ExactIntegerField()
    decanted = ExactIntegerField()
    sent = ExactIntegerField()
    lost = ExactIntegerField()
    on_hand = ExactIntegerField()
    unexplained = ExactIntegerField()
    held_before = models.BooleanField()
    held_now = models.BooleanField()

    class Meta:
        ordering = ["-suspect", "pk"]
        constraints = [models.UniqueConstraint(fields=["recall", "lot"], name="recall_lot_once")]

    def __str__(self) -> str:
        return f"lot {self.lot_id}"


class RecallBatch(models.Model):
    """A batch that drew of an affected lot; `state` as it was at that moment."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="batches")
    step = models.ForeignKey(RecallStep, on_delete=models.PROTECT, related_name="batches")
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="recalled")
    state = models.CharField(max_length=10, choices=Batch.State.choices)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["recall", "batch"], name="recall_batch_once")]

    def __str__(self) -> str:
        return f"batch {self.batch_id}"


class RecallParty(models.Model):
    """Somebody affected goods went to: a customer, or where none is on record whoever bought on a channel.

    What is personal stays with the customer, where it can be erased.
    """

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="parties")
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, related_name="recalled", null=True, blank=True
    )
    channel = models.ForeignKey(Channel, on_delete=models.PROTECT, related_name="+", null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "recall parties"

    def __str__(self) -> str:
        return f"party {self.pk}"

    def display_name(self, user: User) -> str:
        """Who it is, as far as this person may know. Wants its customer and channel read along."""
        return party_called(self.customer, self.channel, user)


class RecallSent(models.Model):
    """So much of an affected lot that had gone to somebody by one dispatch, at that moment; base units.

    A later step's row is what is with them beyond all that earlier ones froze, where a return was reversed.
    """

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="sent")
    step = models.ForeignKey(RecallStep, on_delete=models.PROTECT, related_name="sent")
    party = models.ForeignKey(RecallParty, on_delete=models.PROTECT, related_name="sent")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="+")
    dispatch = models.ForeignKey(Dispatch, on_delete=models.PROTECT, related_name="recalled")
    quantity = ExactIntegerField()
    sent_at = models.DateTimeField()

    class Meta:
        ordering = ["sent_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["recall", "step", "lot", "dispatch"], name="recall_sent_once_a_step"
            ),
            models.CheckConstraint(name="recall_sent_something", condition=Q(quantity__gt=0)),
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of lot {self.lot_id}"


class RecallAnswer(models.Model):
    """What became of somebody's goods: told, answered, so many returned, destroyed or used up. Only ever added.

    A slip is taken back by a row of its own, which names it.
    """

    class Kind(models.TextChoices):
        """What happened."""

        TOLD = "told", "Told"
        ANSWERED = "answered", "Answered"
        RETURNED = "returned", "Returned"
        DESTROYED = "destroyed", "Destroyed"
        USED_UP = "used_up", "Used up before"

    # What says where goods are.
    ACCOUNTING = (Kind.RETURNED, Kind.DESTROYED, Kind.USED_UP)

    party = models.ForeignKey(RecallParty, on_delete=models.PROTECT, related_name="answers")
    kind = models.CharField(max_length=9, choices=Kind.choices)
    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    quantity = ExactIntegerField(default=0)
    on = models.DateField()
    note = models.CharField(max_length=200, blank=True)
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="taken_back", null=True, blank=True
    )
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = RecallAnswerQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="recall_answer_counts_goods",
                condition=Q(kind__in=("told", "answered"), quantity=0, item__isnull=True)
                | Q(kind__in=("returned", "destroyed", "used_up"), quantity__gt=0, item__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.get_kind_display()
