"""What Ninefold Lane buys, from whom and at what price; all of it invented.

Plain data, no database and no clock. Mass is in micrograms, length in micrometres, temperature in thousandths of a
degree Celsius, rates in parts per million, prices in cents.
"""

from dataclasses import dataclass, field

KG = 1_000_000_000
G = 1_000_000
CENT = 10_000  # in millionths of the currency
MM = 1_000


@dataclass(frozen=True)
class SupplierStory:
    """Who sells: stated lead time in days (None: never said), usual freight in cents."""

    key: str
    name: str
    lead_days: int | None
    freight_cents: int
    email: str
    notes: str = ""


SUPPLIERS = (
    SupplierStory(
        "wax", "Example Wax Works (invented)", 6, 6800, "orders@wax.example", "Boxes on a pallet; ring first."
    ),
    SupplierStory("scent", "Make-Believe Scent House (invented)", 8, 1450, "desk@scent.example"),
    SupplierStory(
        "pound", "Imaginary Oils by the Pound (invented)", 11, 3900, "sales@pound.example", "Invoices in lb."
    ),
    SupplierStory("glass", "No-Such Glass & Tin (invented)", 9, 5400, "hello@glass.example"),
    SupplierStory(
        "paper", "Pretend Paper Press (invented)", None, 980, "press@paper.example", "Lead time never stated."
    ),
)


@dataclass(frozen=True)
class Offer:
    """A pack: what it holds as the invoice writes it, and its price in cents `per` pack or unit."""

    holds: str
    cents: int
    per: str = "pack"


@dataclass(frozen=True)
class ItemStory:
    """An item and how it is bought. `reorder_at` in base units in an even month; offers are taken in turn."""

    key: str
    name: str
    kind: str
    unit: str
    place: str
    supplier: str = ""
    offers: tuple[Offer, ...] = ()
    reorder_at: int = 0
    packs: int = 1
    details: dict[str, object] = field(default_factory=dict)


# Packs of an order from which on a supplier asks less, in percent of its price for one.
BREAKS = {
    "wax": ((1, 100), (8, 97), (16, 94)),
    "scent": ((1, 100), (4, 96), (10, 92)),
    "glass": ((1, 100), (5, 97), (10, 94)),
    "paper": ((1, 100), (4, 92)),
}


def asked(each: ItemStory, offer: Offer, percent: int) -> list[tuple[int, int]]:
    """What a pack costs from how many packs on, in cents, at `percent` of the first price; boxes come in pairs."""
    number = int(offer.holds.split()[0]) if offer.per != "pack" else 1
    pack = offer.cents * number * percent
    least = 2 if each.kind == "packaging" and offer.holds != "50 m" else 1
    return [
        (max(packs, least), pack * less // 10_000) for packs, less in BREAKS.get(each.supplier, ((1, 100),))
    ]


def _scent(flash_mc: int, density: int, load_ppm: int) -> dict[str, object]:
    return {
        "flash_point_mc": flash_mc,
        "density_ug_per_ml": density,
        "maximum_load_ppm": load_ppm,
        "maximum_load_basis": "of_melt",
        "shelf_life_days": 540,
    }


def _wax(density: int, load_ppm: int) -> dict[str, object]:
    return {
        "density_ug_per_ml": density,
        "maximum_load_ppm": load_ppm,
        "maximum_load_basis": "of_wax",
        "shelf_life_days": 730,
    }


ITEMS = (
    ItemStory(
        "soy",
        "Soy-type container wax",
        "wax",
        "kg",
        "Floor F1",
        "wax",
        (Offer("20 kg", 8940),),
        90 * KG,
        6,
        _wax(890_000, 100_000),
    ),
    ItemStory(
        "coco",
        "Coconut-type soft wax",
        "wax",
        "kg",
        "Floor F2",
        "wax",
        (Offer("10 kg", 7150),),
        18 * KG,
        3,
        _wax(880_000, 120_000),
    ),
    ItemStory(
        "house",
        "House wax blend",
        "wax",
        "kg",
        "Floor F3",
        details={
            **_wax(888_000, 100_000),
            "made_here": True,
            "notes": "Eight parts soy-type, two parts coconut-type.",
        },
    ),
    ItemStory(
        "again",
        "Recovered cedar melt",
        "wax",
        "g",
        "Floor F4",
        details={
            "density_ug_per_ml": 888_000,
            "made_here": True,
            "notes": "What was left in pot and jug of Cedar & Black Tea, fragrance and all.",
        },
    ),
    ItemStory(
        "cedar",
        "Cedar & Black Tea fragrance",
        "fragrance",
        "g",
        "Shelf A1",
        "pound",
        (Offer("25 lb", 1420, "lb"),),
        4 * KG,
        1,
        _scent(93_000, 962_000, 100_000),
    ),
    ItemStory(
        "rain",
        "Rain on Slate fragrance",
        "fragrance",
        "g",
        "Shelf A2",
        "scent",
        (Offer("0.5 kg", 3150), Offer("2.5 kg", 13200), Offer("2.5 kg", 13200), Offer("10 kg", 46800)),
        2_400 * G,
        1,
        _scent(88_000, 978_000, 90_000),
    ),
    ItemStory(
        "quince",
        "Quince Orchard fragrance",
        "fragrance",
        "g",
        "Shelf A3",
        "scent",
        (Offer("2.5 kg", 14100),),
        1_300 * G,
        1,
        _scent(79_000, 985_000, 95_000),
    ),
    ItemStory(
        "reed",
        "Salt Reed fragrance",
        "fragrance",
        "g",
        "Shelf A4",
        "scent",
        (Offer("0.5 kg", 3580),),
        600 * G,
        2,
        _scent(86_000, 991_000, 90_000),
    ),
    ItemStory(
        "clove",
        "Clove & Orange Peel fragrance",
        "fragrance",
        "g",
        "Shelf A5",
        "scent",
        (Offer("0.5 kg", 3320),),
        900 * G,
        2,
        _scent(71_000, 1_004_000, 70_000),
    ),
    ItemStory(
        "hay", "Late Hay fragrance", "fragrance", "g", "Shelf A6", details=_scent(82_000, 970_000, 80_000)
    ),
    ItemStory(
        "fig",
        "Fig Leaf & Ink fragrance",
        "fragrance",
        "g",
        "Shelf A7",
        details={
            **_scent(72_000, 995_000, 85_000),
            "notes": "Sample bottles for the trial; no price for large packs yet.",
        },
    ),
    ItemStory(
        "tides",
        "Two Tides accord",
        "fragrance",
        "g",
        "Shelf A8",
        details={
            **_scent(86_000, 983_000, 90_000),
            "made_here": True,
            "notes": "Three parts Rain on Slate, two parts Salt Reed.",
        },
    ),
    ItemStory(
        "slate",
        "Slate grey dye",
        "dye",
        "g",
        "Drawer D1",
        "scent",
        (Offer("100 g", 2240),),
        60 * G,
        1,
        {"shelf_life_days": 900},
    ),
    ItemStory(
        "green",
        "Tide green dye",
        "dye",
        "g",
        "Drawer D1",
        "scent",
        (Offer("100 g", 2480),),
        60 * G,
        1,
        {"shelf_life_days": 900},
    ),
    ItemStory("uv", "Light stabiliser powder", "additive", "g", "Drawer D2"),
    ItemStory(
        "wick_jar", "Cotton wick, jar", "wick", "each", "Drawer W1", "glass", (Offer("250", 2450),), 300, 1
    ),
    ItemStory(
        "wick_tin", "Cotton wick, tin", "wick", "each", "Drawer W2", "glass", (Offer("250", 2150),), 220, 1
    ),
    ItemStory(
        "wick_bowl", "Cotton wick, bowl", "wick", "each", "Drawer W3", "glass", (Offer("250", 2600),), 150, 1
    ),
    ItemStory("jar", "Amber jar, 220 g", "vessel", "each", "Rack R1", "glass", (Offer("48", 5520),), 300, 5),
    ItemStory(
        "tin", "Tin with lid, 120 g", "vessel", "each", "Rack R2", "glass", (Offer("60", 4080),), 240, 4
    ),
    ItemStory(
        "bowl", "Three-wick bowl, 450 g", "vessel", "each", "Rack R3", "glass", (Offer("12", 5160),), 48, 4
    ),
    ItemStory("lid_jar", "Black lid, jar", "lid", "each", "Rack R1", "glass", (Offer("100", 3900),), 300, 3),
    ItemStory("lid_bowl", "Beech lid, bowl", "lid", "each", "Rack R3", "glass", (Offer("12", 2580),), 48, 4),
    ItemStory(
        "warning",
        "Warning label, round",
        "label",
        "each",
        "Drawer L1",
        "paper",
        (Offer("1000", 3850),),
        900,
        1,
    ),
    ItemStory(
        "front_jar", "Front label, jar", "label", "each", "Drawer L2", "paper", (Offer("250", 4250),), 300, 1
    ),
    ItemStory(
        "front_tin", "Front label, tin", "label", "each", "Drawer L3", "paper", (Offer("250", 3300),), 260, 1
    ),
    ItemStory(
        "front_bowl", "Front label, bowl", "label", "each", "Drawer L4", "paper", (Offer("100", 2900),), 60, 1
    ),
    ItemStory(
        "box_jar", "Gift box, jar", "packaging", "each", "Rack R4", "paper", (Offer("50", 3450),), 300, 5
    ),
    ItemStory(
        "box_bowl", "Gift box, bowl", "packaging", "each", "Rack R5", "paper", (Offer("25", 3125),), 48, 2
    ),
    ItemStory(
        "ribbon",
        "Linen ribbon, 15 mm",
        "packaging",
        "m",
        "Drawer L5",
        "paper",
        (Offer("50 m", 1850),),
        25_000 * MM,
        1,
    ),
)
