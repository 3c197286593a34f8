"""From an order to the texts of its printed sheet."""

from collections.abc import Sequence
from datetime import date

from django.utils import timezone

from inventory.models import Order, OrderLine
from inventory.purchasing.ordering import total_of
from inventory.purchasing.purchase_order_pdf import OrderPaper, PaperLine
from studio.core.money import format_money, price_text, round_to_cent
from studio.models import Studio

NOT_KNOWN = "not known"


def paper_of(
    order: Order, lines: Sequence[OrderLine], studio: Studio, *, priced: bool, printed: str
) -> OrderPaper:
    """Everything the sheet says. `priced` False leaves the money out, for a maker who may not see it.

    `lines` with their items.
    """
    supplier, total = order.supplier, total_of(lines)
    states = {Order.State.DRAFT: "Draft, not sent", Order.State.CALLED_OFF: "Called off"}
    when = timezone.localtime(order.sent_at or order.made_at).date()
    return OrderPaper(
        studio=studio.name,
        address=studio.place,
        code=order.code,
        supplier=supplier.name,
        contact=tuple(filter(None, (supplier.contact, supplier.email, supplier.phone))),
        dated=_day(when),
        expected=_day(order.expected_on) if order.expected_on else "",
        state=states.get(Order.State(order.state), ""),
        lines=tuple(_line(line, studio.currency, priced) for line in lines),
        priced=priced,
        total=format_money(total.known, studio.currency),
        lacking=lacking_words(total.lacking),
        note=order.note,
        printed=printed,
        page_size=studio.page_size,
    )


def lacking_words(lines: int) -> str:
    """What a total leaves out: "1 line has no price and is not in the total."; empty when it holds everything."""
    if not lines:
        return ""
    return (
        "1 line has no price and is not in the total."
        if lines == 1
        else f"{lines} lines have no price and are not in the total."
    )


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def _line(line: OrderLine, currency: str, priced: bool) -> PaperLine:
    price = total = ""
    if priced:
        price = NOT_KNOWN if line.price is None else price_text(line.price, currency)
        total = NOT_KNOWN if line.total is None else format_money(round_to_cent(line.total), currency)
    return PaperLine(
        article=line.supplier_code,
        item=line.item.name,
        packs=f"{line.packs} × {line.typed_pack}",
        quantity=line.item.quantity(line.quantity),
        price=price,
        total=total,
    )
