"""Start-up of the costing package."""

from django.apps import AppConfig

from studio.guards import Guard, append_only, differs, guard, kept

# What a scenario says; that it was put away, and what was made of it, is written on it afterwards.
THOUGHT = (
    "name",
    "version_id",
    "fragrance_id",
    "fragrance_name",
    "load_ppm",
    "load_basis",
    "fill_ug",
    "first_units",
    "run_units",
    "year_units",
    "run_minutes_milli",
    "unit_minutes_milli",
    "channel_id",
    "price_micros",
    "note",
    "kept_by_id",
    "kept_at",
)


class CostingConfig(AppConfig):
    """Rates and roll-ups."""

    name = "costing"
    verbose_name = "Costing"

    def ready(self) -> None:
        """Keep rates and prices as they were set."""
        guard(
            *append_only("costing_labourrate", "Labour rates"),
            *append_only("costing_overheadrate", "Overhead rates"),
            *append_only("costing_channelterms", "Terms of a channel"),
            *append_only("costing_askedprice", "Asked prices"),
            *append_only("costing_overheadpaid", "Overhead paid"),
            *append_only("costing_workstandard", "Standards of work"),
            *append_only("costing_workstep", "Standards of work"),
            *append_only("costing_goodsrule", "Rules of what goods hold"),
            *append_only("costing_closedfigure", "Figures of a closing"),
            *append_only("costing_scenariopart", "Parts of a scenario"),
            *append_only("costing_scenarioquote", "Quotes of a scenario"),
            *append_only("costing_scenarioexpense", "Expenses of a scenario"),
            *kept("costing_scenario", "Scenarios", instead="put it away"),
            Guard(
                "costing_scenario", "UPDATE", "A scenario is never changed; make another", differs(*THOUGHT)
            ),
        )
