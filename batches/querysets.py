"""The questions asked of batches, each a queryset that composes with the others."""

from typing import TYPE_CHECKING, TypedDict

from django.db import models
from django.db.models import F, Q, QuerySet, Sum
from django.db.models.functions import Coalesce, Greatest

if TYPE_CHECKING:
    from django_stubs_ext import WithAnnotations

    from batches.models import (  # noqa: F401
        Batch,
        BatchNote,
        BurnTest,
        Complaint,
        Draw,
        Labour,
        Outcome,
        Reading,
        RecallAnswer,
    )


class StillToCome(TypedDict):
    """What `with_still_to_come` adds to a batch: base units."""

    still_to_come: int


class BatchQuerySet(models.QuerySet["Batch"]):
    """Questions about batches."""

    def unfinished(self) -> "BatchQuerySet":
        """Runs that are planned or in progress."""
        return self.filter(state__in=["planned", "started"])

    def with_product(self) -> "BatchQuerySet":
        """With the formula and what it makes, in the same query."""
        return self.select_related("version__formula__item")

    def with_still_to_come(self) -> "QuerySet[WithAnnotations[Batch, StillToCome]]":
        """With `still_to_come`: what each has still to bring of what was planned, in base units of its product.

        Whatever came out is no longer to come, as seconds or scrap as well; recovered melt is no product. Ask it of
        batches that are unfinished.
        """
        stands = Q(outcomes__posting__reversal__isnull=True) & ~Q(outcomes__result="melt")
        came = Coalesce(Sum("outcomes__quantity", filter=stands), 0)
        left = Greatest(F("quantity") - came, 0, output_field=models.BigIntegerField())
        batches: QuerySet[Batch] = self
        return batches.annotate(still_to_come=left)

    def locked(self, batch_id: int) -> "Batch":
        """The batch by its key, locked until the transaction ends, with the formula and what it makes. Raises DoesNotExist.

        Its version is read only then: where it was corrected while the lock was waited for, PostgreSQL drops the row of
        one query that does both.
        """
        self.select_for_update().get(pk=batch_id)
        return self.with_product().get(pk=batch_id)


class DrawQuerySet(models.QuerySet["Draw"]):
    """Questions about draws."""

    def standing(self) -> "DrawQuerySet":
        """Draws that were not reversed."""
        return self.filter(movement__posting__reversal__isnull=True)

    def by_line(self) -> dict[tuple[int, int], int]:
        """Base units drawn in all, by batch and formula line; one query. Ask it of draws that stand."""
        return self._totals("batch", "line")

    def by_lot_of_line(self) -> dict[tuple[int, int], int]:
        """Base units drawn in all, by formula line and lot; one query. Ask it of draws that stand, of one batch."""
        return self._totals("line", "movement__lot")

    def _totals(self, *keys: str) -> dict[tuple[int, int], int]:
        rows = self.order_by().values_list(*keys).annotate(total=models.Sum("movement__quantity"))
        return {(first, second): -total for first, second, total in rows}

    def with_lots(self) -> "DrawQuerySet":
        """With lot, item, posting and the name under it, in the same query."""
        return self.select_related(
            "movement__lot__item", "movement__posting__by", "movement__posting__reversal__by", "line__item"
        )


class ReadingQuerySet(models.QuerySet["Reading"]):
    """Questions about temperatures."""

    def standing(self) -> "ReadingQuerySet":
        """Readings that were neither struck out nor taken back at the bench."""
        return self.filter(bench_entry__taken_back_by__isnull=True, struck__isnull=True)


class BatchNoteQuerySet(models.QuerySet["BatchNote"]):
    """Questions about notes of batches."""

    def standing(self) -> "BatchNoteQuerySet":
        """Notes that count: not taken back at the bench, and that a pot was poured above a maximum whatever was."""
        return self.filter(models.Q(bench_entry__taken_back_by__isnull=True) | models.Q(kind="poured"))


class OutcomeQuerySet(models.QuerySet["Outcome"]):
    """Questions about yields."""

    def standing(self) -> "OutcomeQuerySet":
        """Outcomes whose finishing was not undone."""
        return self.filter(posting__reversal__isnull=True)


class BurnTestQuerySet(models.QuerySet["BurnTest"]):
    """Questions about burn tests."""

    def running(self) -> "BurnTestQuerySet":
        """Those that nobody decided yet."""
        return self.filter(state="running")

    def passed(self) -> "BurnTestQuerySet":
        """Those that passed, the latest first."""
        return self.filter(state="passed").order_by("-decided_at", "-pk")

    def with_product(self) -> "BurnTestQuerySet":
        """With what was burned and the names under it, in the same query."""
        return self.select_related("version__formula__item", "batch", "limits", "started_by", "decided_by")


class ComplaintQuerySet(models.QuerySet["Complaint"]):
    """Questions about complaints."""

    def waiting(self) -> "ComplaintQuerySet":
        """Those that nobody closed yet."""
        return self.exclude(state="closed")

    def with_candle(self) -> "ComplaintQuerySet":
        """With what they are about, in the same query."""
        return self.select_related("item", "lot", "batch", "taken_by")


class RecallAnswerQuerySet(models.QuerySet["RecallAnswer"]):
    """Questions about what became of goods that were called back."""

    def standing(self) -> "RecallAnswerQuerySet":
        """Answers that were not taken back and take none back."""
        return self.filter(taken_back__isnull=True, takes_back__isnull=True)


class LabourQuerySet(models.QuerySet["Labour"]):
    """Minutes worked, and those that take some back."""

    def standing(self) -> "LabourQuerySet":
        """Entries that were worked and not taken back."""
        return self.filter(takes_back=None, taken_back=None)
