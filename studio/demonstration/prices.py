"""Where Ninefold Lane sells and for how much, and two scents it only thinks of; all of it invented."""

from datetime import timedelta

from costing.models import ScenarioExpense
from costing.new_products import keeping as scenarios
from costing.prices import channels
from inventory.models import Channel
from studio.demonstration.goods import CENT, KG, G
from studio.demonstration.work import Workshop
from studio.people.signature import Signature

# From the first day and, where they changed half a year ago, from then on.
TERMS: tuple[tuple[str, dict[str, int | str | bool]], ...] = (
    (
        "Web shop",
        {
            "percent_ppm": 29_000,
            "fixed_micros": 30 * CENT,
            "shipping_micros": 410 * CENT,
            "units_milli": 1_900,
        },
    ),
    (
        "Market",
        # At the stall a price is a round note, with the sales tax inside.
        {
            "percent_ppm": 17_500,
            "fixed_micros": 4_500 * CENT,
            "units_milli": 38_000,
            "tax": "inside",
            "tax_ppm": 70_000,
        },
    ),
    ("Event", {"shipping_micros": 1_800 * CENT, "units_milli": 30_000, "discount_ppm": 100_000}),
)
DEARER_WEB = {
    "percent_ppm": 34_000,
    "fixed_micros": 30 * CENT,
    "shipping_micros": 460 * CENT,
    "units_milli": 1_900,
}
WHOLESALE_PPM = 500_000
# What is asked for a candle in the web shop, in cents: on the first day and since half a year ago.
ASKED = {
    "jar": (2_400, 2_600),
    "tin": (1_400, 1_500),
    "bowl": (4_600, 4_800),
    "tides_jar": (4_600, 4_900),
}


def set_prices(shop: Workshop) -> None:
    """Channels with their terms and what is asked in them, all of it known from the first day on."""
    keeper, first = shop.people.bookkeeper, shop.first_day
    change = shop.today - timedelta(days=183)
    # Signed on the days they were set.
    opened_at = shop.sign(keeper, 8 * 60).recorded_at - (shop.day - first)
    made: dict[str, Channel] = {}
    for name, terms in TERMS:
        said = {"from_on": first, **terms}
        made[name] = channels.open_channel(name=name, terms=said, by=keeper, now=opened_at)
    half = {"from_on": first, "share_of": made["Web shop"], "share_ppm": WHOLESALE_PPM}
    channels.open_channel(name="Wholesale", terms=half, by=keeper, now=opened_at)
    channels.set_terms(
        made["Web shop"], terms={"from_on": change, **DEARER_WEB}, by=keeper, now=opened_at + (change - first)
    )
    channels.set_price_points(way="up", step_micros=100 * CENT, endings=[0, 50 * CENT])
    for key, product in shop.products.items():
        asked = ASKED.get(key) or ASKED.get(key.rpartition("_")[2])
        if asked is None or product.story.blend_of or product.formula.retired:
            continue
        for name in made:
            for from_on, cents in zip((first, change), asked, strict=True):
                channels.ask(
                    item=product.item,
                    channel=made[name],
                    price_micros=cents * CENT,
                    from_on=from_on,
                    by=keeper,
                    now=opened_at + (from_on - first),
                )


def think_of_scents(shop: Workshop, signature: Signature) -> None:
    """A scent quoted by the supplier that is no item yet, as a jar; and the same with a finish by hand."""
    version = shop.products["cedar_jar"].current()
    per_unit = version.lines.filter(basis="per_unit").select_related("item")
    parts = [{"item": line.item, "amount": line.amount, "spare_ppm": line.spare_ppm} for line in per_unit]
    ribbon = {"item": shop.items["ribbon"], "amount": 450_000}
    quotes = [
        {"typed_pack": typed, "pack_quantity": holds, "price_micros": cents * CENT}
        for typed, holds, cents in (
            ("0.5 kg", 500 * G, 3_450),
            ("2.5 kg", 2_500 * G, 14_900),
            ("10 kg", 10 * KG, 52_800),
        )
    ]
    expenses = [
        {
            "kind": ScenarioExpense.Kind.POUR,
            "words": "Three loads, two wicks",
            "number": 6,
            "each_micros": 900 * CENT,
        },
        {"kind": ScenarioExpense.Kind.BURN, "words": "", "number": 6, "each_micros": 1_100 * CENT},
        {
            "kind": ScenarioExpense.Kind.CERTIFICATE,
            "words": "Label sheet for the scent",
            "number": 1,
            "each_micros": 6_500 * CENT,
        },
    ]
    web = Channel.objects.get(name="Web shop")
    columns = {
        "version": version,
        "fragrance_name": "Plum & Candle Smoke fragrance",
        "load_ppm": 80_000,
        "fill_ug": version.fill_ug,
        "first_units": 24,
        "run_units": 60,
        "year_units": 500,
        "channel": web,
    }
    plain = {"name": "Plum & Candle Smoke jar", "price_micros": 2_600 * CENT}
    finished = {
        "name": "Plum & Candle Smoke jar, ribboned",
        "price_micros": 3_400 * CENT,
        "run_minutes_milli": 45_000,
        "unit_minutes_milli": 9_000,
        "note": "A ribbon tied and waxed by hand.",
    }
    for more, own in ((plain, parts), (finished, [*parts, ribbon])):
        scenarios.keep(scenarios.Idea(columns | more, own, quotes, expenses), signature=signature)
