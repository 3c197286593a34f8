"""Papers and photos kept beside items and lots."""

from datetime import date

from django.db import models
from django.db.models import Q
from django.urls import reverse

from inventory.models.items import Item
from inventory.models.lots import Lot
from inventory.querysets import DocumentQuerySet
from studio.models import User


class Document(models.Model):
    """A safety data sheet, a certificate or a photo of an item or of one of its lots.

    Its bytes lie in `DocumentContent`, in the same database as the books, so that one backup holds both and a
    document lands whole or not at all. `digest` is the SHA-256 of those bytes, `size` their number. `withdrawn` and
    `erased` are cached from its records; only `inventory.documents.services` writes them, and `manage.py check_books`
    proves them.
    """

    class Kind(models.TextChoices):
        """What the paper is."""

        SAFETY = "safety", "Safety data sheet"
        IFRA = "ifra", "IFRA certificate"
        ANALYSIS = "analysis", "Certificate of analysis"
        PHOTO = "photo", "Photo"
        OTHER = "other", "Other paper"

    item = models.ForeignKey(Item, on_delete=models.PROTECT, related_name="documents")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="documents", null=True, blank=True)
    kind = models.CharField(max_length=8, choices=Kind.choices)
    dated_on = models.DateField("date on it", null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=120, blank=True)
    name = models.CharField(max_length=120)
    media_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    digest = models.CharField(max_length=64)
    added_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    added_at = models.DateTimeField()
    withdrawn = models.BooleanField(default=False)
    erased = models.BooleanField(default=False)

    objects = DocumentQuerySet.as_manager()

    class Meta:
        ordering = ["-added_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="document_kind_is_known",
                condition=Q(kind__in=("safety", "ifra", "analysis", "photo", "other")),
            ),
            models.UniqueConstraint(
                name="document_once_on_an_item",
                fields=["item", "digest"],
                condition=Q(lot__isnull=True, erased=False),
            ),
            models.UniqueConstraint(
                name="document_once_on_a_lot", fields=["lot", "digest"], condition=Q(erased=False)
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The document's page."""
        return reverse("inventory:document-detail", args=[self.pk])

    @property
    def file_url(self) -> str:
        """The document itself."""
        return reverse("inventory:document-file", args=[self.pk])

    @property
    def is_picture(self) -> bool:
        """Whether it is a picture, written anew by the studio, and may be shown in a page."""
        return self.media_type.startswith("image/") and not self.erased

    def outdated(self, on: date) -> bool:
        """Whether the day written on it as its last has passed."""
        return self.valid_until is not None and self.valid_until < on

    def state(self, on: date) -> tuple[str, str]:
        """Tone and word for what the document is worth on a day."""
        if self.erased:
            return "plain", "Erased"
        if self.withdrawn:
            return "plain", "Withdrawn"
        return ("attention", "Out of date") if self.outdated(on) else ("good", "Valid")


class DocumentContent(models.Model):
    """The bytes of a document, apart from it so that lists need not read them."""

    document = models.OneToOneField(
        Document, on_delete=models.PROTECT, related_name="content", primary_key=True
    )
    data = models.BinaryField()

    def __str__(self) -> str:
        return str(self.document_id)


class DocumentRecord(models.Model):
    """A document was withdrawn, put back or erased: by whom, when, and for erasing why. Never changed."""

    class What(models.TextChoices):
        """What was done to it."""

        WITHDRAWN = "withdrawn", "Withdrawn"
        PUT_BACK = "put_back", "Put back"
        ERASED = "erased", "Erased"

    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="records")
    what = models.CharField(max_length=10, choices=What.choices)
    reason = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.document_id}: {self.what}"
