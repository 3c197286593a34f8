"""Who Ninefold Lane is, what it buys, makes and sells: the invented tables behind the demonstration studio.

Plain data, no database and no clock. Mass is in micrograms, length in micrometres, temperature in thousandths
of a degree Celsius, rates in parts per million, prices in cents. Process temperatures,
    loads and cure times lie
within the ranges usual for soy-type container wax; common practice, no source.
"""

from dataclasses import dataclass, field

KG = 1_000_000_000
G = 1_000_000
MM = 1_000
DAYS = 548  # eighteen months

STUDIO_NAME = "Ninefold Lane"

# Sales through the year in percent of an even month; a candle studio lives by the weeks before December.
SEASON = {1: 65, 2: 75, 3: 80, 4: 85, 5: 95, 6: 80, 7: 70, 8: 80, 9: 105, 10: 135, 11: 175, 12: 155}
WINTER_ONLY = {10: 130, 11: 170, 12: 120}


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
        1_900 * G,
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

Lines = tuple[tuple[str, str, int, int], ...]  # item, basis, amount, spare in ppm

JAR_SET: Lines = (
    ("wick_jar", "per_unit", 1, 20_000),
    ("jar", "per_unit", 1, 10_000),
    ("lid_jar", "per_unit", 1, 0),
    ("warning", "per_unit", 1, 10_000),
    ("front_jar", "per_unit", 1, 20_000),
    ("box_jar", "per_unit", 1, 0),
)
TIN_SET: Lines = (
    ("wick_tin", "per_unit", 1, 20_000),
    ("tin", "per_unit", 1, 10_000),
    ("warning", "per_unit", 1, 10_000),
    ("front_tin", "per_unit", 1, 20_000),
)
BOWL_SET: Lines = (
    ("wick_bowl", "per_unit", 3, 0),
    ("bowl", "per_unit", 1, 0),
    ("lid_bowl", "per_unit", 1, 0),
    ("warning", "per_unit", 1, 0),
    ("front_bowl", "per_unit", 1, 0),
    ("ribbon", "per_unit", 620 * MM, 0),
    ("box_bowl", "per_unit", 1, 0),
)
PACKED_LAST = {
    "lid_jar",
    "lid_bowl",
    "warning",
    "front_jar",
    "front_tin",
    "front_bowl",
    "box_jar",
    "box_bowl",
    "ribbon",
}

JAR = {
    "fill_ug": 205 * G,
    "loss_ppm": 25_000,
    "pot_ug": 12 * KG,
    "division_ug": G,
    "heat_to_mc": 82_000,
    "fragrance_at_mc": 74_000,
    "pour_from_mc": 56_000,
    "pour_to_mc": 62_000,
    "rest_hours": 24,
    "cure_days": 14,
    "notes": "Warm the jars. Stir two minutes after the fragrance, slowly.",
}
TIN = JAR | {
    "fill_ug": 108 * G,
    "pour_from_mc": 58_000,
    "pour_to_mc": 64_000,
    "cure_days": 10,
    "notes": "Level the tins on the slab before pouring.",
}
BOWL = JAR | {
    "fill_ug": 410 * G,
    "loss_ppm": 30_000,
    "pour_from_mc": 55_000,
    "pour_to_mc": 60_000,
    "notes": "Three wicks on the template. Pour in two goes, the second an hour later.",
}
LAYERED = JAR | {
    "fill_ug": 200 * G,
    "loss_ppm": 40_000,
    "division_ug": G // 10,
    "rest_hours": 48,
    "notes": "Three layers; each must carry a fingertip before the next. Polish every rim.",
}
MIXED = {
    "loss_ppm": 5_000,
    "division_ug": 10 * G,
    "heat_to_mc": 80_000,
    "pot_ug": 30 * KG,
    "notes": "Melt the soy-type first; stir five minutes; tip into clean trays.",
}
ACCORD = {
    "loss_ppm": 2_000,
    "division_ug": G // 10,
    "notes": "Cold. Weigh by the drop at the end; close at once.",
}


def scented(wax: str, scent: str, load_ppm: int, basis: str, parts: Lines) -> Lines:
    """One wax and one fragrance at a load on a basis, with what goes with each unit."""
    return ((wax, "wax_share", 1_000_000, 0), (scent, basis, load_ppm, 0), *parts)


@dataclass(frozen=True)
class VersionStory:
    """A version and the share of the history, in percent, after which it was written."""

    after_percent: int
    lines: Lines
    process: dict[str, object]
    what_changed: str = ""


@dataclass(frozen=True)
class ProductStory:
    """A product or blend: run size (units, or µg) and units sold in an even week.

    `minutes` are for weighing (a whole run), then pouring,
        finishing and packing (ten units). `months` overrides
    the season; `scripted` is never planned by itself.
    """

    key: str
    name: str
    formula: str
    run: int
    weekly: int
    minutes: tuple[int, int, int, int]
    versions: tuple[VersionStory, ...]
    unit: str = "each"
    months: dict[int, int] | None = None
    blend_of: str = ""
    scripted: bool = False


CEDAR_BOWL_WAX: Lines = (("soy", "wax_share", 700_000, 0), ("coco", "wax_share", 300_000, 0))
DYES: Lines = (("slate", "of_wax", 350, 0), ("green", "of_wax", 300, 0), ("uv", "of_wax", 2_000, 0))

PRODUCTS = (
    ProductStory(
        "house",
        "House wax blend",
        "House wax blend",
        60 * KG,
        0,
        (40, 0, 0, 0),
        (VersionStory(0, (("soy", "wax_share", 800_000, 0), ("coco", "wax_share", 200_000, 0)), MIXED),),
        "kg",
        blend_of="wax",
    ),
    ProductStory(
        "tides",
        "Two Tides accord",
        "Two Tides accord",
        1_500 * G,
        0,
        (25, 0, 0, 0),
        (VersionStory(0, (("rain", "of_melt", 600_000, 0), ("reed", "of_melt", 400_000, 0)), ACCORD),),
        "g",
        blend_of="fragrance",
    ),
    ProductStory(
        "cedar_jar",
        "Cedar & Black Tea jar",
        "Cedar & Black Tea jar",
        100,
        30,
        (40, 6, 3, 10),
        (
            VersionStory(0, scented("soy", "cedar", 80_000, "of_wax", JAR_SET), JAR | {"cure_days": 10}),
            VersionStory(
                22,
                scented("house", "cedar", 80_000, "of_wax", JAR_SET),
                JAR,
                "House wax blend in place of plain soy-type wax: fewer wet spots. Cure 14 days.",
            ),
            VersionStory(
                58,
                scented("house", "cedar", 85_000, "of_wax", JAR_SET),
                JAR,
                "Fragrance 8.5 % of wax, was 8 %: customers asked for a stronger throw.",
            ),
        ),
    ),
    ProductStory(
        "rain_jar",
        "Rain on Slate jar",
        "Rain on Slate jar",
        60,
        14,
        (35, 6, 3, 10),
        (
            VersionStory(0, scented("house", "rain", 75_000, "of_wax", JAR_SET), JAR),
            VersionStory(
                45,
                scented("house", "rain", 75_000, "of_wax", JAR_SET),
                JAR | {"pour_from_mc": 58_000, "pour_to_mc": 64_000},
                "Poured warmer, 58 to 64 °C: jump lines when it was cold.",
            ),
        ),
    ),
    ProductStory(
        "quince_jar",
        "Quince Orchard jar",
        "Quince Orchard jar",
        54,
        11,
        (35, 6, 3, 10),
        (VersionStory(0, scented("house", "quince", 80_000, "of_wax", JAR_SET), JAR),),
    ),
    ProductStory(
        "clove_jar",
        "Clove & Orange Peel jar",
        "Clove & Orange Peel jar",
        48,
        12,
        (35, 6, 3, 10),
        (
            VersionStory(
                2, scented("house", "clove", 60_000, "of_melt", JAR_SET), JAR | {"fragrance_at_mc": 69_000}
            ),
        ),
        months=WINTER_ONLY,
    ),
    ProductStory(
        "tides_jar",
        "Two Tides layered jar",
        "Two Tides layered jar",
        30,
        7,
        (50, 22, 95, 12),
        (
            VersionStory(0, (*scented("house", "tides", 70_000, "of_wax", ()), *DYES, *JAR_SET), LAYERED),
            VersionStory(
                36,
                (*scented("house", "tides", 75_000, "of_wax", ()), *DYES, *JAR_SET),
                LAYERED,
                "Accord 7.5 % of wax, was 7 %. Three layers instead of two.",
            ),
        ),
    ),
    ProductStory(
        "cedar_tin",
        "Cedar & Black Tea tin",
        "Cedar & Black Tea tin",
        72,
        15,
        (30, 4, 1, 6),
        (VersionStory(0, scented("soy", "cedar", 80_000, "of_wax", TIN_SET), TIN),),
    ),
    ProductStory(
        "quince_tin",
        "Quince Orchard tin",
        "Quince Orchard tin",
        60,
        10,
        (30, 4, 1, 6),
        (VersionStory(0, scented("soy", "quince", 80_000, "of_wax", TIN_SET), TIN),),
    ),
    ProductStory(
        "cedar_bowl",
        "Cedar & Black Tea bowl",
        "Cedar & Black Tea bowl",
        24,
        5,
        (40, 18, 12, 22),
        (VersionStory(0, (*CEDAR_BOWL_WAX, ("cedar", "of_wax", 80_000, 0), *BOWL_SET), BOWL),),
    ),
    ProductStory(
        "hay_jar",
        "Late Hay jar",
        "Late Hay jar",
        36,
        4,
        (35, 6, 3, 10),
        (VersionStory(0, scented("soy", "hay", 70_000, "of_wax", JAR_SET), JAR),),
        scripted=True,
    ),
    ProductStory(
        "fig_jar",
        "Fig Leaf & Ink jar",
        "Fig Leaf & Ink jar",
        4,
        0,
        (20, 12, 5, 12),
        (VersionStory(85, scented("soy", "fig", 70_000, "of_melt", JAR_SET), JAR),),
        scripted=True,
    ),
)

CUSTOMERS = (
    "Tilda Quillfeather",
    "Bram Nettlebottle",
    "Odo Thimblewick",
    "Marigold Plumwhistle",
    "Hesper Lanternby",
    "Ludo Crumpetson",
    "Posy Inkerwick",
    "Fennel Hobblegate",
    "Wilf Candlemouse",
    "Dulcie Starbucket",
    "Cosmo Pebblethwaite",
    "Ottoline Wrenfether",
    "Gideon Mothwing",
    "Saffy Tumblejar",
    "Barnaby Snugglewick",
)
SHOPS = (
    "The Paper Heron (invented shop)",
    "Mossgate Provisions (invented shop)",
    "Hatch & Harrow (invented shop)",
)
MARKETS = ("Lantern Yard market", "Harbour Steps market")
EVENTS = ("Wedding at Nowhere Barn", "Winter supper at Notional Hall", "Book launch at the Unbuilt Library")
SCRAP_REASONS = ("Wet spots", "Wick off centre", "Frosting", "Chipped vessel", "Rough top", "Air bubbles")
