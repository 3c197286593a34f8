"""How labels lie on paper."""

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.urls import reverse

from studio.fields import ExactIntegerField


class LabelLayout(models.Model):
    """Where labels lie on the paper the studio prints them on, in micrometres; see `inventory.labels.sheets.Layout`."""

    name = models.CharField(max_length=60)
    page_width_um = ExactIntegerField("page width")
    page_height_um = ExactIntegerField("page height")
    rows = models.PositiveSmallIntegerField(default=1)
    columns = models.PositiveSmallIntegerField(default=1)
    left_um = ExactIntegerField("left margin", default=0)
    top_um = ExactIntegerField("top margin", default=0)
    label_width_um = ExactIntegerField("label width")
    label_height_um = ExactIntegerField("label height")
    gap_x_um = ExactIntegerField("gap across", default=0)
    gap_y_um = ExactIntegerField("gap down", default=0)
    is_default = models.BooleanField("usual", default=False)
    retired = models.BooleanField(default=False, help_text="Kept and no longer offered for printing.")

    class Meta:
        ordering = [Lower("name")]
        constraints = [
            models.UniqueConstraint(
                Lower("name"),
                name="label_layout_name_once",
                violation_error_message="A layout of this name exists already.",
            ),
            models.UniqueConstraint(
                fields=["is_default"], condition=Q(is_default=True), name="label_layout_one_usual"
            ),
            models.CheckConstraint(
                name="label_layout_has_labels",
                condition=Q(rows__gte=1, columns__gte=1, label_width_um__gt=0, label_height_um__gt=0),
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        """The layout's page."""
        return reverse("inventory:label-layout-change", args=[self.pk])
