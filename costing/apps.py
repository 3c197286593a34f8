"""Start-up of the costing package."""

from django.apps import AppConfig

from studio import panels
from studio.guards import append_only, guard


class CostingConfig(AppConfig):
    """Rates and roll-ups."""

    name = "costing"
    verbose_name = "Costing"

    def ready(self) -> None:
        """Show what a batch cost on its page; keep rates as they were set."""
        from costing.batch_panel import batch_cost

        panels.add("batch", batch_cost)
        guard(
            *append_only("costing_labourrate", "Labour rates"),
            *append_only("costing_overheadrate", "Overhead rates"),
        )
