"""What was entered at the bench: each entry as the tablet sent it, the notes and the photos."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from batches.models.formulas import FormulaLine
from batches.models.production import Batch, Reading
from batches.querysets import BatchNoteQuerySet
from inventory.models import Posting
from studio.fields import ExactIntegerField
from studio.models import User


class BatchNote(models.Model):
    """A remark on a batch, or that something was done for a while: stirred, rested. Only ever added."""

    class Kind(models.TextChoices):
        """What it is about."""

        NOTE = "note", "Note"
        STIRRED = "stirred", "Stirred"
        RESTED = "rested", "Rested"
        POURED = "poured", "Poured above a maximum"

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="notes")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.NOTE)
    seconds = models.PositiveIntegerField(null=True, blank=True)
    text = models.CharField(max_length=500, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    objects = BatchNoteQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="batch_note_says_something", condition=Q(seconds__isnull=False) | ~Q(text="")
            ),
        ]

    def __str__(self) -> str:
        return self.text or self.get_kind_display()

    @property
    def pour(self) -> int | None:
        """Which pot it speaks of, from 1, as the bench said; None where nobody said. Reads its bench entry."""
        entry = getattr(self, "bench_entry", None)
        return entry.pour if entry else None

    @property
    def taken_back_by(self) -> BenchEntry | None:
        """What took its entry back at the bench, where something did. Reads its bench entry."""
        return getattr(getattr(self, "bench_entry", None), "taken_back_by", None)

    @property
    def stands(self) -> bool:
        """Whether it counts. That a pot was poured above a maximum does whatever is taken back: the melt is in the vessels,
        and a temperature that was a slip of the finger changes nothing of it. Only the owner's word settles it."""
        return self.kind == self.Kind.POURED or self.taken_back_by is None


class BatchPhoto(models.Model):
    """A photo of a batch, its bytes in the database beside the books. Only ever added.

    `data` is left out of every list: read it for one photo at a time.
    """

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="photos")
    text = models.CharField(max_length=200, blank=True)
    media_type = models.CharField(max_length=40)
    digest = models.CharField(max_length=64)
    size = models.PositiveIntegerField()
    data = models.BinaryField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return self.text or f"photo {self.pk}"


class BenchEntry(models.Model):
    """One thing entered at the bench, under the key the tablet gave it: taken in once, however often it is sent.

    `at` is when it was entered there, `recorded_at` when it arrived. Weights are what the scale showed, in µg; what
    was drawn of them is in the posting. `pour` counts the pots of a run from 1. An entry that takes another back says
    which. Never changed.
    """

    class Kind(models.TextChoices):
        """What was entered."""

        DRAW = "draw", "Weighed or counted"
        UNDO = "undo", "Taken back"
        READING = "reading", "Temperature"
        NOTE = "note", "Note"
        PHOTO = "photo", "Photo"

    class Source(models.TextChoices):
        """Where a weight came from."""

        KEYPAD = "keypad", "typed"
        SCALE = "scale", "read from the scale"

    key = models.UUIDField(unique=True)
    digest = models.CharField(max_length=64)
    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="bench_entries")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    line = models.ForeignKey(FormulaLine, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    pour = models.PositiveIntegerField(null=True, blank=True)
    gross_ug = ExactIntegerField(null=True, blank=True)
    tare_ug = ExactIntegerField(null=True, blank=True)
    source = models.CharField(max_length=6, choices=Source.choices, default=Source.KEYPAD)
    posting = models.OneToOneField(
        Posting, on_delete=models.PROTECT, related_name="bench_entry", null=True, blank=True
    )
    reading = models.OneToOneField(
        Reading, on_delete=models.PROTECT, related_name="bench_entry", null=True, blank=True
    )
    note = models.OneToOneField(
        BatchNote, on_delete=models.PROTECT, related_name="bench_entry", null=True, blank=True
    )
    photo = models.OneToOneField(
        BatchPhoto, on_delete=models.PROTECT, related_name="bench_entry", null=True, blank=True
    )
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="taken_back_by", null=True, blank=True
    )
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        verbose_name_plural = "bench entries"
        constraints = [
            models.CheckConstraint(
                name="bench_entry_kind_is_known",
                condition=Q(kind__in=("draw", "undo", "reading", "note", "photo")),
            ),
            models.CheckConstraint(
                name="bench_entry_undo_names_what",
                condition=Q(kind="undo", takes_back__isnull=False)
                | (~Q(kind="undo") & Q(takes_back__isnull=True)),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.key}"
