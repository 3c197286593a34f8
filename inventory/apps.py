"""Start-up of the stock books."""

from django.apps import AppConfig

from studio.guards import Guard, append_only, differs, guard, kept

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


# What stays gone of a customer who was erased.
ERASED = ("name", "contact", "reach", "erased_at", "erased_by_id")


def _no_draft(row: str) -> str:
    """Whether the order of a line, OLD or NEW, is no draft any more, in SQL."""
    return f"EXISTS (SELECT 1 FROM inventory_order AS o WHERE o.id = {row}.order_id AND o.state <> 'draft')"


# Where the books are closed nothing comes in any more, whoever writes it.
CLOSED = "The books are closed there; post it after the closing"


def closed_at(moment: str) -> str:
    """Whether the books are closed at a moment, in SQL."""
    return f"EXISTS (SELECT 1 FROM inventory_closing AS c WHERE c.until > {moment})"


def _of_closed_posting() -> str:
    """Whether the posting of a new row happened where the books are closed, in SQL."""
    return (
        "EXISTS (SELECT 1 FROM inventory_posting AS p JOIN inventory_closing AS c ON c.until > p.happened_at "
        "WHERE p.id = NEW.posting_id)"
    )


def _guard_closing() -> None:
    guard(
        *append_only("inventory_closing", "Closings", "through"),
        *append_only("inventory_closedstock", "Figures of a closing"),
        Guard(
            "inventory_closing",
            "INSERT",
            "The books are closed further already",
            "EXISTS (SELECT 1 FROM inventory_closing AS c WHERE c.until >= NEW.until OR c.through >= NEW.through)",
            name="further",
        ),
        Guard("inventory_posting", "INSERT", CLOSED, closed_at("NEW.happened_at"), name="closed"),
        Guard("inventory_movement", "INSERT", CLOSED, _of_closed_posting(), name="closed"),
        Guard("inventory_periodcost", "INSERT", CLOSED, _of_closed_posting(), name="closed"),
    )


def _guard_lots() -> None:
    """What a lot is, where it came from and who looked at it; where it stands and what is written on it may change."""
    guard(
        *kept("inventory_lot", "Lots", "code", instead="take out what is left"),
        Guard(
            "inventory_lot",
            "UPDATE",
            "What a lot is and where it came from is never changed",
            # A lot is there before the line of the delivery it came with.
            # A result that is entered anew, into the lot it had, may have come earlier than was said at first.
            f"{differs('code', 'item_id', 'grade', 'supplier_id')} OR NEW.arrived_at > OLD.arrived_at "
            f"OR (OLD.delivery_line_id IS NOT NULL AND {differs('delivery_line_id')})",
        ),
        *append_only("inventory_delivery", "Deliveries", "posting_id"),
        *append_only("inventory_packcontent", "Contents of packs"),
        *append_only("inventory_deliveryline", "Lines of deliveries"),
        *append_only("inventory_import", "Tables that came in"),
        *append_only("inventory_stoppeduse", "Uses of lots that were stopped"),
        *append_only("inventory_review", "Looks at what was flagged", "posting_id"),
    )


def _guard_customers() -> None:
    """Who got goods and who waits for some: what was erased stays gone, and what was promised stays what it was."""
    orders = "inventory_customerorder"
    guard(
        *kept("inventory_customer", "Customers", instead="erase them"),
        Guard(
            "inventory_customer",
            "UPDATE",
            "What was erased of a customer does not come back",
            f"OLD.erased_at IS NOT NULL AND ({differs(*ERASED)})",
        ),
        *kept("inventory_channel", "Channels", instead="offer it no longer"),
        *kept(orders, "Orders of customers", "code", instead="call it off"),
        Guard(
            orders,
            "UPDATE",
            "Nothing on an order that is over changes; take a new one",
            f"{differs('code', 'taken_by_id', 'taken_at')} OR (OLD.state <> 'open' AND "
            f"({differs('customer_id', 'channel_id', 'reference', 'wanted_on')})) "
            "OR (OLD.state = 'called_off' AND NEW.state <> 'called_off')",
        ),
    )


def _guard_counts() -> None:
    """Offers and counts: withdrawn or reversed, and never changed."""
    guard(
        Guard(
            "inventory_offer",
            "UPDATE",
            "Offers are never changed; withdraw it and enter a new one",
            differs(*OFFERED),
        ),
        *kept("inventory_offer", "Offers", instead="withdraw it"),
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
        *kept("inventory_count", "Counts", instead="call it off"),
    )


def _guard_sales_orders() -> None:
    """What was sent of an order, and its lines once it is over."""
    guard(
        *append_only("inventory_orderdispatch", "Dispatches of orders", "dispatch_id"),
        *[
            Guard(
                "inventory_customerorderline",
                event,
                "Nothing on an order that is over changes; take a new one",
                f"EXISTS (SELECT 1 FROM inventory_customerorder AS o "
                f"WHERE o.id = {row}.order_id AND o.state <> 'open')",
            )
            for event, row in (("INSERT", "NEW"), ("UPDATE", "OLD"), ("DELETE", "OLD"))
        ],
    )


def _guard_shipments() -> None:
    """Shipments, their changes, and returns."""
    guard(
        *append_only("inventory_return", "Returns", "posting_id"),
        *append_only("inventory_returnline", "Lines of returns", "lot_id"),
        # Who it went to, and by which order, may become known later; what left never changes.
        *kept("inventory_dispatch", "Dispatches", "posting_id", instead="reverse it and send again"),
        Guard(
            "inventory_dispatch",
            "UPDATE",
            "What was sent is never changed; reverse it and send again",
            differs("posting_id"),
        ),
        *append_only("inventory_dispatchchange", "Changes of dispatches"),
        *append_only("inventory_shoporder", "Orders that came in"),
    )


def _guard_purchase_orders() -> None:
    """What was ordered of a supplier stays as it was sent."""
    sent = "Nothing on an order changes once it is no draft"
    guard(
        Guard("inventory_order", "UPDATE", sent, f"OLD.state <> 'draft' AND ({differs(*ORDERED)})"),
        Guard("inventory_order", "DELETE", "Orders are never deleted; call it off", "OLD.state <> 'draft'"),
        Guard("inventory_orderline", "INSERT", sent, _no_draft("NEW")),
        Guard("inventory_orderline", "UPDATE", sent, f"{_no_draft('OLD')} OR {_no_draft('NEW')}"),
        Guard("inventory_orderline", "DELETE", sent, _no_draft("OLD")),
    )


def _guard_documents() -> None:
    """Documents are added and withdrawn; their bytes go only when they are erased."""
    guard(
        Guard(
            "inventory_document",
            "UPDATE",
            "A paper is never swapped for another; add the new one beside it",
            differs(*KEPT_OF_A_PAPER),
        ),
        *kept("inventory_document", "Papers", instead="withdraw it"),
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
            ("inventory_oneoff", "Records of what is not repeated"),
        ):
            guard(*append_only(table, what))
        guard(*append_only("inventory_importedrow", "Imported rows", key="key"))
        _guard_closing()
        _guard_lots()
        _guard_customers()
        _guard_counts()
        _guard_sales_orders()
        _guard_shipments()
        _guard_purchase_orders()
        _guard_documents()
