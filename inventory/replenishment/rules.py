"""The studio's rules of buying, and those somebody tries out for one look."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.db import transaction

from inventory.models import ReorderRules
from studio.people.signature import Signature

FIELDS = ("service_ppm", "window_days", "carrying_ppm", "order_cost", "horizon_days")


@dataclass(frozen=True)
class Rules:
    """The rules in force: shares in ppm, `order_cost` in millionths, None where nobody said. `own` marks those that
    somebody at the studio set; the others are common practice. `tried_ppm` is a service level tried out for one look,
    which then comes before every item's own."""

    service_ppm: int
    window_days: int
    carrying_ppm: int
    order_cost: int | None
    horizon_days: int
    own: bool = False
    tried_ppm: int | None = None

    def trying(self, *, service_ppm: int | None = None, window_days: int | None = None) -> "Rules":
        """The same with another service level or window, for one look."""
        return replace(self, tried_ppm=service_ppm, window_days=window_days or self.window_days)


def row() -> ReorderRules:
    """The kept row, or one with the usual figures that is not kept yet."""
    return ReorderRules.objects.first() or ReorderRules(pk=1)


def in_force() -> Rules:
    """The rules as they stand; one query."""
    kept = row()
    return Rules(
        kept.service_ppm,
        kept.window_days,
        kept.carrying_ppm,
        kept.order_cost,
        kept.horizon_days,
        own=kept.set_at is not None,
    )


@transaction.atomic
def set_rules(figures: Mapping[str, int | None], *, signature: Signature) -> ReorderRules:
    """Write those of FIELDS that are given; from now on they are the studio's own."""
    kept, _ = ReorderRules.objects.get_or_create(pk=1)
    for name in figures:
        setattr(kept, name, figures[name])
    kept.set_by, kept.set_at = signature.by, signature.recorded_at
    kept.save(update_fields=[*figures, "set_by", "set_at"])
    return kept
