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


# What an order says, once it is no draft any more; where it stands afterwards is written beside it.
ORDERED = ("code", "supplier_id", "note", "expected_on", "made_by_id", "made_at")

# What a paper is of, and which bytes it is; its kind, its dates and its note may be put right.
KEPT_OF_A_PAPER = ("item_id", "lot_id", "name", "media_type", "size", "digest", "added_by_id", "added_at")


def _no_draft(row: str) -> str:
    """Whether the order of a line, OLD or NEW, is no draft any more, in SQL."""
    return f"EXISTS (SELECT 1 FROM inventory_order AS o WHERE o.id = {row}.order_id AND o.state <> 'draft')"


def _differs(columns: tuple[str, ...]) -> str:
    """Whether a row would get another value in any of these columns, in SQL."""
    return " OR ".join(f"NEW.{column} {{differs}} OLD.{column}" for column in columns)


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
            ("inventory_documentrecord", "Records of papers"),
        ):
            guard(*append_only(table, what))
        guard(*append_only("inventory_importedrow", "Imported rows", key="key"))
        guard(
            Guard(
                "inventory_offer",
                "UPDATE",
                "Offers are never changed; withdraw it and enter a new one",
                _differs(OFFERED),
            ),
            Guard("inventory_offer", "DELETE", "Offers are never deleted; withdraw it"),
            Guard(
                "inventory_countline",
                "UPDATE",
                "A count that is in the books is never changed; reverse it and count again",
                "EXISTS (SELECT 1 FROM inventory_count AS c WHERE c.id = OLD.count_id AND c.state <> 'open')",
            ),
            Guard(
                "inventory_countline",
                "INSERT",
                "A count that is in the books is never changed; reverse it and count again",
                "EXISTS (SELECT 1 FROM inventory_count AS c WHERE c.id = NEW.count_id AND c.state <> 'open')",
            ),
            Guard("inventory_countline", "DELETE", "What was counted is never deleted"),
            Guard(
                "inventory_count",
                "UPDATE",
                "A count that has ended is never changed; reverse it and count again",
                "OLD.state <> 'open'",
            ),
            Guard("inventory_count", "DELETE", "Counts are never deleted; call it off"),
        )
        sent = "Nothing on an order changes once it is no draft"
        guard(
            Guard("inventory_order", "UPDATE", sent, f"OLD.state <> 'draft' AND ({_differs(ORDERED)})"),
            Guard(
                "inventory_order", "DELETE", "Orders are never deleted; call it off", "OLD.state <> 'draft'"
            ),
            Guard("inventory_orderline", "INSERT", sent, _no_draft("NEW")),
            Guard("inventory_orderline", "UPDATE", sent, f"{_no_draft('OLD')} OR {_no_draft('NEW')}"),
            Guard("inventory_orderline", "DELETE", sent, _no_draft("OLD")),
        )
        guard(
            Guard(
                "inventory_document",
                "UPDATE",
                "A paper is never swapped for another; add the new one beside it",
                _differs(KEPT_OF_A_PAPER),
            ),
            Guard("inventory_document", "DELETE", "Papers are never deleted; withdraw it"),
            Guard("inventory_documentcontent", "UPDATE", "A paper's bytes are never changed"),
            Guard(
                "inventory_documentcontent",
                "DELETE",
                "A paper's bytes go only when it is erased",
                "NOT EXISTS (SELECT 1 FROM inventory_document AS d WHERE d.id = OLD.document_id AND d.erased)",
            ),
            Guard(
                "inventory_documentcontent",
                "INSERT",
                "A paper's bytes are never replaced",
                "EXISTS (SELECT 1 FROM inventory_documentcontent AS kept "
                "WHERE kept.document_id = NEW.document_id)",
            ),
        )
