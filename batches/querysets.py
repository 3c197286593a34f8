"""The questions asked of batches, each a queryset that composes with the others."""

from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from batches.models import Batch, BurnTest, Draw, Outcome  # noqa: F401


class BatchQuerySet(models.QuerySet["Batch"]):
    """Questions about batches."""

    def unfinished(self) -> "BatchQuerySet":
        """Runs that are planned or in progress."""
        return self.filter(state__in=["planned", "started"])

    def with_product(self) -> "BatchQuerySet":
        """With the formula and what it makes, in the same query."""
        return self.select_related("version__formula__item")


class DrawQuerySet(models.QuerySet["Draw"]):
    """Questions about draws."""

    def standing(self) -> "DrawQuerySet":
        """Draws that were not reversed."""
        return self.filter(movement__posting__reversal__isnull=True)

    def with_lots(self) -> "DrawQuerySet":
        """With lot, item, posting and the name under it, in the same query."""
        return self.select_related(
            "movement__lot__item", "movement__posting__by", "movement__posting__reversal__by", "line__item"
        )


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
