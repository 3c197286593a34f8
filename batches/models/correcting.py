"""A batch that was recorded under a wrong formula version, or product: both stay on record."""

from django.db import models
from django.db.models import F, Q

from batches.models.formulas import FormulaVersion
from batches.models.production import Batch
from studio.models import User


class VersionCorrection(models.Model):
    """A batch was recorded as of one version and is of another: by whom, when and why."""

    batch = models.ForeignKey(Batch, on_delete=models.PROTECT, related_name="version_corrections")
    before = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="+")
    after = models.ForeignKey(FormulaVersion, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    reason = models.CharField(max_length=300)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(name="version_correction_changes_it", condition=~Q(before=F("after"))),
            models.CheckConstraint(name="version_correction_says_why", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.before_id} → {self.after_id}"
