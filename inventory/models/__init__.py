"""What is kept in stock, where it came from, and the books that say where it went."""

from inventory.models.buying import Delivery, DeliveryLine, LateCost
from inventory.models.closing import ClosedStock, Closing
from inventory.models.counts import Count, CountClass, CountLine
from inventory.models.dispatches import (
    Channel,
    Customer,
    Dispatch,
    DispatchChange,
    Retention,
    Return,
    ReturnLine,
)
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
from inventory.models.packs import PackContent
from inventory.models.postings import (
    USES,
    Commitment,
    Movement,
    OverrideUse,
    PeriodCost,
    Posting,
    Review,
    StoppedUse,
)
from inventory.models.printing import LabelLayout
from inventory.models.reorder import OneOff, ReorderRules
from inventory.models.selling import CustomerOrder, CustomerOrderLine, OrderDispatch
from inventory.models.shop_orders import Shop, ShopOrder, ShopProduct, WaitingOrders

__all__ = [
    "COMPONENT_KINDS",
    "DIMENSION_OF",
    "RAW_KINDS",
    "USES",
    "Channel",
    "ClosedStock",
    "Closing",
    "Commitment",
    "Count",
    "CountClass",
    "CountLine",
    "Customer",
    "CustomerOrder",
    "CustomerOrderLine",
    "Delivery",
    "DeliveryLine",
    "Dispatch",
    "DispatchChange",
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
    "OneOff",
    "Order",
    "OrderDispatch",
    "OrderLine",
    "Override",
    "OverrideUse",
    "PackContent",
    "PeriodCost",
    "Posting",
    "Reason",
    "ReorderRules",
    "Retention",
    "Return",
    "ReturnLine",
    "Review",
    "Shop",
    "ShopOrder",
    "ShopProduct",
    "StoppedUse",
    "Supplier",
    "Unit",
    "WaitingOrders",
    "WaitingTable",
]
