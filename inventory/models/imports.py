"""What was brought in from tables people kept before, so that bringing it in again does no harm."""

from django.db import models
from django.urls import reverse

from inventory.models.lots import Lot
from inventory.models.postings import Posting
from studio.models import User


class Import(models.Model):
    """One table that was brought in: which, by whom, and how many of its rows were new."""

    class Table(models.TextChoices):
        """What a table holds."""

        ITEMS = "items", "Items"
        SUPPLIERS = "suppliers", "Suppliers"
        OFFERS = "offers", "Offers"
        LOTS = "lots", "Opening lots"
        MOVEMENTS = "movements", "Past movements"

    table = models.CharField(max_length=10, choices=Table.choices)
    name = models.CharField("file", max_length=120)
    rows = models.PositiveIntegerField()
    added = models.PositiveIntegerField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_table_display()}: {self.name}"

    def get_absolute_url(self) -> str:
        """The page that says what came of it."""
        return reverse("inventory:import-detail", args=[self.pk])


class WaitingTable(models.Model):
    """A file that was read and waits to be looked at and brought in, so that nobody has to send it twice.

    `content` is what was read of it (see `studio.web.reading_tables.pack`), `choices` how its person wants it understood.
    Gone when it is brought in, or a week old.
    """

    table = models.CharField(max_length=10, choices=Import.Table.choices)
    name = models.CharField("file", max_length=120)
    content = models.BinaryField()
    choices = models.JSONField(default=dict)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The page that says what is in it and what is wrong."""
        return reverse("inventory:import-preview", args=[self.pk])


class ImportedRow(models.Model):
    """A row of opening lots or past movements that is in the books. `key` is a digest of what it says, so that the
    same row in a later file is known again; of rows that say the same in one file each has a key of its own."""

    key = models.CharField(max_length=64, primary_key=True)
    run = models.ForeignKey(Import, on_delete=models.PROTECT, related_name="imported_rows")
    posting = models.ForeignKey(Posting, on_delete=models.PROTECT, related_name="imported_rows")
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="imported_rows")

    def __str__(self) -> str:
        return self.key
