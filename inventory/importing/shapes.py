"""What each table that may be brought in holds, column by column. The examples are invented, and say so."""

from dataclasses import replace

from inventory.importing.columns import Column, Shape
from inventory.models import Import

UNIT = Column(
    "unit",
    "Unit",
    "The unit of a quantity that is a bare number: g, kg, oz, lb, each, m, cm, in or ft.",
    ("units", "uom", "measure", "unit of measure"),
)
IN_ONE = Column(
    "in_one",
    "In one pack",
    "What one case, box, roll or ream holds, where the quantity is in packs: 24, or 25 lb.",
    ("per case", "per pack", "case size", "units per case", "per box"),
)
ITEM = Column(
    "item",
    "Item",
    "The item's name, as it stands in Stock. Bring in items first.",
    ("item name", "material", "product", "article", "name", "what it is", "ingredient"),
    needed=True,
)
SUPPLIER = Column(
    "supplier",
    "Supplier",
    "The supplier's name, as it stands under Suppliers. Bring in suppliers first.",
    ("vendor", "seller", "bought from", "from", "supplier name"),
)
NOTE = Column(
    "note", "Note", "Anything to remember.", ("notes", "remark", "remarks", "comment", "comments", "memo")
)
QUANTITY_WORDS = ("qty", "amount", "quant", "how much", "how many")

SUPPLIERS = Shape(
    Import.Table.SUPPLIERS,
    "Who sells to you. A supplier you have already stays as it is.",
    (
        Column(
            "name",
            "Name",
            "The supplier's name.",
            ("supplier", "vendor", "supplier name", "company"),
            needed=True,
            examples=("Example Wax Works (invented)", "No-Such Glass & Tin (invented)"),
        ),
        Column(
            "contact",
            "Contact",
            "Whom you speak to.",
            ("contact person", "person"),
            examples=("Ida Marsh", ""),
        ),
        Column(
            "email",
            "E-mail",
            "Where orders go.",
            ("mail", "email address", "e-mail address"),
            examples=("orders@wax.example", "hello@glass.example"),
        ),
        Column("phone", "Phone", "A number to ring.", ("telephone", "tel", "phone number", "mobile")),
        Column(
            "lead_days",
            "Lead time",
            "Days from order to delivery, as the supplier says: 6, or 6 days.",
            ("lead days", "lead time days", "days", "delivery time"),
            examples=("6", "9 days"),
        ),
        NOTE,
    ),
)

ITEMS = Shape(
    Import.Table.ITEMS,
    "What you keep: waxes, fragrances, wicks, vessels, labels, finished candles. An item you have already stays as it is.",
    (
        Column(
            "name",
            "Name",
            "The item's name. It is known by it, capitals or not.",
            ("item", "item name", "material", "product", "article"),
            needed=True,
            examples=("Cedar & Black Tea oil", "Amber jar 220 g"),
        ),
        Column(
            "kind",
            "Kind",
            "wax, fragrance, dye, additive, wick, vessel, lid, label, packaging or finished good.",
            ("type", "category", "group"),
            needed=True,
            examples=("fragrance", "vessel"),
        ),
        Column(
            "unit",
            "Unit",
            "What it is shown and typed in: g, kg, oz, lb, each, m, cm, in or ft.",
            ("units", "uom", "shown in", "unit of measure"),
            needed=True,
            examples=("g", "each"),
        ),
        Column(
            "made_here",
            "Made here",
            "yes for a blend you make yourselves and use in other batches.",
            ("blend", "own blend"),
        ),
        Column(
            "place",
            "Usual place",
            "Where new lots go.",
            ("place", "shelf", "location", "where"),
            examples=("Shelf A1", "Rack 2"),
        ),
        Column(
            "shelf_life_days",
            "Shelf life",
            "In days from arrival, for lots without a date of their own: 540, or 540 days.",
            ("shelf life days", "keeps", "keeps for"),
            examples=("540", ""),
        ),
        Column(
            "flash_point",
            "Flash point",
            "From the safety data sheet, section 9: 93 °C or 200 °F.",
            ("flashpoint", "flash"),
            examples=("93 °C", ""),
        ),
        Column(
            "maximum_load",
            "Maximum load",
            "In percent, from the certificate or the wax maker: 8 %.",
            ("max load", "max fragrance load", "maximum fragrance load", "load"),
            examples=("10 %", ""),
        ),
        Column(
            "load_basis",
            "Load is a share of",
            "wax or melt. They differ; needed beside a maximum load.",
            ("of wax or of melt", "load basis", "basis", "share of"),
            examples=("melt", ""),
        ),
        NOTE,
    ),
)

OFFERS = Shape(
    Import.Table.OFFERS,
    "What suppliers quoted for one size of pack, from a day on. Prices that fall with the number of packs stand in rows of "
    "their own, one below the other, alike but for “From packs” and “Price of a pack”.",
    (
        replace(SUPPLIER, needed=True, examples=("Example Wax Works (invented)",) * 2),
        replace(ITEM, examples=("Soy-type container wax",) * 2),
        Column(
            "pack",
            "Pack",
            "What one pack holds, with its unit: 20 kg.",
            ("pack size", "size", "holds", "package", *QUANTITY_WORDS, "quantity"),
            needed=True,
            examples=("20 kg", "20 kg"),
            measured=True,
        ),
        UNIT,
        Column(
            "price",
            "Price of a pack",
            "For one pack: 89.40.",
            ("price", "pack price", "price per pack", "cost"),
            needed=True,
            examples=("89.40", "84.90"),
            measured=True,
        ),
        Column(
            "from_packs",
            "From packs",
            "The price holds from so many packs on; empty means from the least that can be ordered.",
            ("from quantity", "break", "packs"),
            examples=("", "6"),
        ),
        Column(
            "minimum_packs",
            "Least packs",
            "The fewest packs that can be ordered; empty means 1.",
            ("minimum packs", "minimum", "minimum order", "moq", "least"),
        ),
        Column(
            "quoted_on",
            "Quoted on",
            "The day of the quotation: 2026-03-03, or 3 Mar 2026.",
            ("date", "quoted", "quote date", "day", "valid from", "since"),
            needed=True,
            examples=("2026-01-12", "2026-01-12"),
        ),
        Column(
            "valid_until",
            "Valid until",
            "The last day it holds, where the supplier says.",
            ("until", "valid to"),
        ),
        Column(
            "lead_days",
            "Lead time",
            "Days from order to delivery, for this pack.",
            ("lead days", "lead time days", "delivery time"),
        ),
        Column(
            "supplier_code",
            "Article number",
            "The supplier's number for it.",
            ("article no", "supplier code", "code", "sku", "item number", "part number"),
            examples=("SW-20", "SW-20"),
        ),
        NOTE,
    ),
)

LOTS = Shape(
    Import.Table.LOTS,
    "What stood on your shelf before you began here, lot by lot. Each row becomes a lot with a code of its own to write on "
    "the container. Where you bring in past movements as well, give what arrived; else what is left today.",
    (
        replace(ITEM, examples=("Cedar & Black Tea oil", "Amber jar 220 g")),
        Column(
            "quantity",
            "Quantity",
            "How much there was, with its unit: 2.5 kg, 5 lb, 800 g. A bare number is in the column Unit, or else in the "
            "item's own unit.",
            (*QUANTITY_WORDS, "weight", "on hand", "stock", "left", "net", "net weight"),
            needed=True,
            examples=("2.5 kg", "144"),
            measured=True,
        ),
        UNIT,
        IN_ONE,
        Column(
            "cost",
            "Cost",
            "What all of the lot cost, with its freight: 98.75. Or for a unit: 2.49/lb.",
            ("total cost", "total", "value", "paid", "price", "total price", "cost total"),
            examples=("98.75", ""),
            measured=True,
        ),
        Column(
            "unit_cost",
            "Unit cost",
            "Instead of Cost, what one unit cost: 2.49/lb, or a bare number for one of the row's unit.",
            ("cost per unit", "unit price", "price per unit", "cost each", "price each"),
            examples=("", "0.85 each"),
            measured=True,
        ),
        Column(
            "arrived_on",
            "Arrived",
            "The day it came: 2026-03-03, or 3 Mar 2026. It is entered at 8 in the morning.",
            (
                "arrived on",
                "date",
                "received",
                "received on",
                "date received",
                "bought",
                "bought on",
                "delivery date",
                "purchase date",
            ),
            needed=True,
            examples=("2026-01-20", "3 Feb 2026"),
        ),
        replace(
            SUPPLIER,
            examples=("Make-Believe Scent House (invented)", "No-Such Glass & Tin (invented)"),
        ),
        Column(
            "supplier_lot",
            "Supplier's lot",
            "The lot number on the container.",
            (
                "lot",
                "lot no",
                "lot number",
                "batch",
                "batch no",
                "batch number",
                "suppliers lot number",
                "suppliers lot no",
                "lot #",
            ),
            examples=("SF-31", ""),
        ),
        Column(
            "expires_on",
            "Expires",
            "Its last good day. Empty: reckoned from the item's shelf life.",
            (
                "expires on",
                "expiry",
                "expiry date",
                "expiration",
                "expiration date",
                "best before",
                "use by",
                "exp",
            ),
            examples=("2027-06-30", ""),
        ),
        Column(
            "place",
            "Place",
            "Where it stands. Empty: the item's usual place.",
            ("shelf", "location", "where", "stands"),
            examples=("Shelf A1", "Rack 2"),
        ),
        Column(
            "container",
            "Container",
            "What it stands in.",
            ("stands in", "vessel it is in", "pail"),
            examples=("bottle", ""),
        ),
        Column(
            "opened_on",
            "Opened",
            "The day it was opened.",
            ("opened on", "open since"),
            examples=("2026-02-11", ""),
        ),
    ),
)

MOVEMENTS = Shape(
    Import.Table.MOVEMENTS,
    "What was used, sold or thrown away of those lots before you began here, so that use and value of past months come out "
    "right.",
    (
        Column(
            "happened_on",
            "Date",
            "The day: 2026-03-03, or 3 Mar 2026. It is entered at noon.",
            ("day", "when", "happened", "on"),
            needed=True,
            examples=("2026-02-14", "20 Feb 2026"),
        ),
        Column(
            "lot",
            "Lot",
            "Our code on the container. Or the supplier's lot; then name the item beside it.",
            (
                "lot code",
                "code",
                "lot no",
                "lot number",
                "suppliers lot",
                "suppliers lot no",
                "batch",
                "batch no",
                "lot #",
            ),
            needed=True,
            examples=("L00 01X", "SF-31"),
        ),
        replace(
            ITEM,
            needed=False,
            examples=("", "Cedar & Black Tea oil"),
            explains="The item's name, needed where Lot is the supplier's number.",
        ),
        Column(
            "what",
            "What",
            "used, sold, scrapped, sample, sent back or found.",
            ("kind", "type", "movement", "what happened", "why"),
            needed=True,
            examples=("used", "sample"),
        ),
        Column(
            "quantity",
            "Quantity",
            "How much, without a minus sign: 420 g. A bare number is in the column Unit, or else in the item's own unit.",
            (*QUANTITY_WORDS, "weight", "taken"),
            needed=True,
            examples=("420 g", "15 g"),
            measured=True,
        ),
        UNIT,
        replace(NOTE, examples=("for the market in March", "tester for the shop")),
    ),
)

SHAPES = {shape.table: shape for shape in (SUPPLIERS, ITEMS, OFFERS, LOTS, MOVEMENTS)}
"""In the order they are brought in."""
