"""What stands on the price list: what is asked in each channel, as finished texts. No cost stands on it."""

from collections.abc import Sequence
from datetime import date

from batches.formulas.approved import never_approved
from batches.models import FormulaVersion
from batches.records.net_label import net_label
from costing.prices.channels import Market
from costing.prices.price_list_pdf import ListedProduct, PriceList, PriceSection
from costing.prices.pricing import Tax, Terms
from costing.standard.product_costs import products
from inventory.models import Channel
from studio.core.money import format_money
from studio.core.percent import format_percent
from studio.models import Studio

NOT_APPROVED = "Not approved"


def price_list_of(
    market: Market,
    channels: Sequence[Channel],
    *,
    studio: Studio,
    day: date,
    printed: str,
    with_unapproved: bool = False,
) -> PriceList:
    """The list of some channels on a day; products nobody asks a price for are left out.

    So are designs that were never approved, unless they are asked for; then each is marked.
    """
    never = never_approved()
    made = [version for version in products() if with_unapproved or version.formula.item_id not in never]
    sections = []
    for channel in channels:
        lines = []
        for version in made:
            asked = market.asked(version.formula.item_id, channel.pk)
            if asked is None:
                continue
            lines.append(
                ListedProduct(
                    version.formula.item.name,
                    _weight(version, studio),
                    format_money(asked.price, studio.currency),
                    day_words(asked.since),
                    NOT_APPROVED if version.formula.item_id in never else "",
                )
            )
        sections.append(PriceSection(channel.name, tax_words(market.terms(channel.pk)), tuple(lines)))
    return PriceList(studio.name, day_words(day), tuple(sections), printed, studio.page_size)


def day_words(day: date) -> str:
    """A day as it is written on paper."""
    return f"{day.day} {day:%b %Y}"


def tax_words(terms: Terms) -> str:
    """What a price holds, for whoever reads the list."""
    rate = format_percent(terms.tax_ppm)
    return {
        Tax.NONE: "",
        Tax.INSIDE: f"{rate} tax included.",
        Tax.ADDED: f"{rate} tax is added.",
    }[terms.tax]


def _weight(version: FormulaVersion, studio: Studio) -> str:
    declared = version.declared_ug or version.fill_ug
    try:
        return net_label(declared, studio.market).words if declared else ""
    except ValueError:
        return ""
