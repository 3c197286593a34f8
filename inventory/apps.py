"""Start-up of the stock books."""

from django.apps import AppConfig

from studio.guards import Guard, append_only, guard

# An offer is a fact of its day; only that it was withdrawn is written on it afterwards.
OFFERED = (
    "supplier_id",
    "item_id",
    "pack_quantity",
    "minimum_packs",
    "lead_days",
    "quoted_on",
    "valid_until",
)


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
            ("inventory_override", "Overrides"),
            ("inventory_overrideuse", "Uses of overrides"),
            ("inventory_offerbreak", "Prices of offers"),
        ):
            guard(*append_only(table, what))
        guard(*append_only("inventory_importedrow", "Imported rows", key="key"))
        changed = " OR ".join(f"NEW.{column} {{differs}} OLD.{column}" for column in OFFERED)
        guard(
            Guard(
                "inventory_offer",
                "UPDATE",
                "Offers are never changed; withdraw it and enter a new one",
                changed,
            ),
            Guard("inventory_offer", "DELETE", "Offers are never deleted; withdraw it"),
            Guard(
                "inventory_countline",
                "UPDATE",
                "A count that is in the books is never changed; reverse it and count again",
                "EXISTS (SELECT 1 FROM inventory_count AS c WHERE c.id = OLD.count_id AND c.state <> 'open')",
            ),
        )
