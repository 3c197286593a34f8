"""What is kept in stock, where it came from, and the books that say where it went."""

from inventory.models.buying import Delivery, DeliveryLine, LateCost
from inventory.models.counts import Count, CountClass, CountLine
from inventory.models.documents import Document, DocumentContent, DocumentRecord
from inventory.models.imports import Import, ImportedRow, WaitingTable
from inventory.models.items import (
    COMPONENT_KINDS,
    DIMENSION_OF,
    RAW_KINDS,
    Item,
    Kind,
    LoadBasis,
    Supplier,
    Unit,
)
from inventory.models.lots import Grade, HoldRecord, Lot, LotChange, Override, Reason
from inventory.models.orders import Offer, OfferBreak, Order, OrderLine
from inventory.models.postings import (
    Commitment,
    Dispatch,
    Movement,
    OverrideUse,
    PeriodCost,
    Posting,
    Review,
)
from inventory.models.printing import LabelLayout

__all__ = [
    "COMPONENT_KINDS",
    "DIMENSION_OF",
    "RAW_KINDS",
    "Commitment",
    "Count",
    "CountClass",
    "CountLine",
    "Delivery",
    "DeliveryLine",
    "Dispatch",
    "Document",
    "DocumentContent",
    "DocumentRecord",
    "Grade",
    "HoldRecord",
    "Import",
    "ImportedRow",
    "Item",
    "Kind",
    "LabelLayout",
    "LateCost",
    "LoadBasis",
    "Lot",
    "LotChange",
    "Movement",
    "Offer",
    "OfferBreak",
    "Order",
    "OrderLine",
    "Override",
    "OverrideUse",
    "PeriodCost",
    "Posting",
    "Reason",
    "Review",
    "Supplier",
    "Unit",
    "WaitingTable",
]
