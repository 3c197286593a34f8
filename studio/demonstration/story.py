"""Who Ninefold Lane is, what it makes and to whom it sells: the invented tables behind the demonstration.

Plain data, no database and no clock. Mass is in micrograms, length in micrometres, temperature in thousandths
of a degree Celsius, rates in parts per million. Process temperatures, loads and cure times lie within the ranges
usual for soy-type container wax; common practice, no source.
"""

from dataclasses import dataclass

from studio.demonstration.goods import KG, MM, G

DAYS = 548  # eighteen months
WRITTEN_BEFORE = (
    12  # days from writing a version to the day it is first poured for sale: it is burned meanwhile
)
AT_TRIAL = {"fig_jar", "odd_tin"}

STUDIO_NAME = "Ninefold Lane"

# Sales through the year in percent of an even month; a candle studio lives by the weeks before December.
SEASON = {1: 65, 2: 75, 3: 80, 4: 85, 5: 95, 6: 80, 7: 70, 8: 80, 9: 105, 10: 135, 11: 175, 12: 155}
WINTER_ONLY = {10: 130, 11: 170, 12: 120}


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

# By how much of its target a weight may be off, by kind of item.
TOLERANCES_PPM = {"fragrance": 10_000, "wax": 5_000}
ADDRESS = "9 Ninefold Lane, Nowhere-on-Marsh (an invented place)"

JAR = {
    "fill_ug": 205 * G,
    "loss_ppm": 25_000,
    "pot_ug": 12 * KG,
    "division_ug": G,
    "heat_to_mc": 82_000,
    "fragrance_at_mc": 74_000,
    "stir_minutes": 2,
    "pour_from_mc": 56_000,
    "pour_to_mc": 62_000,
    "rest_hours": 24,
    "cure_days": 14,
    "notes": "Warm the jars. Stir slowly.",
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
    "stir_minutes": 5,
    "notes": "Melt the soy-type first; tip into clean trays.",
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


# What a supplier's sheet might ask for; the substances are invented.
CEDAR_WORDS = "Contains black-tea aldehyde and cedar ketone (invented). May produce an allergic reaction."
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
                JAR | {"label_words": CEDAR_WORDS},
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
        13,
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
    ProductStory(
        "odd_tin",
        "Odd-lot tin",
        "Odd-lot tin",
        8,
        0,
        (15, 4, 1, 6),
        (VersionStory(85, (("again", "wax_share", 1_000_000, 0), *TIN_SET), TIN),),
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
# Asked to be forgotten so many days ago, and has ordered nothing since.
FORGOTTEN, FORGOTTEN_DAYS_AGO = CUSTOMERS[-1], 96
# Why the owner lets jars go whose design is still on trial.
DESPITE = "Trial jars, for friends who tell how they burn"


def reach_of(name: str) -> str:
    """Where a customer of the web shop is written to; no such domain exists."""
    return f"{name.lower().replace(' ', '.')}@post.example"


SHOPS = (
    "The Paper Heron (invented shop)",
    "Mossgate Provisions (invented shop)",
    "Hatch & Harrow (invented shop)",
)
MARKETS = ("Lantern Yard market", "Harbour Steps market")
EVENTS = ("Wedding at Nowhere Barn", "Winter supper at Notional Hall", "Book launch at the Unbuilt Library")
SCRAP_REASONS = ("Wet spots", "Wick off centre", "Frosting", "Chipped vessel", "Rough top", "Air bubbles")
