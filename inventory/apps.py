"""Start-up of the stock books."""

from django.apps import AppConfig

from studio.guards import append_only, guard


class InventoryConfig(AppConfig):
    """Items, lots and the books."""

    name = "inventory"
    verbose_name = "Stock"

    def ready(self) -> None:
        """Name the tables that only ever grow."""
        guard(*append_only("inventory_posting", "Postings", "reverses_id"))
        guard(*append_only("inventory_latecost", "Late costs", "posting_id"))
        for table, what in (
            ("inventory_movement", "Movements"),
            ("inventory_periodcost", "Period costs"),
            ("inventory_holdrecord", "Hold records"),
            ("inventory_lotchange", "Changes of lots"),
        ):
            guard(*append_only(table, what))
