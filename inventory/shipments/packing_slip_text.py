"""From a dispatch to the texts of its packing slip."""

from collections.abc import Sequence

from django.utils import timezone

from inventory.models import Dispatch, Grade, Movement
from inventory.shipments.packing_slip_pdf import Slip, SlipLine
from studio.models import Studio

KEEP = (
    "Please keep this slip, or the code on the jar. Should anything be wrong with a candle, tell us the code: it leads "
    "us to everything that went into it. Burn candles within sight, away from things that catch fire, out of the reach "
    "of children and animals; follow the label."
)


def slip_of(dispatch: Dispatch, lines: Sequence[Movement], studio: Studio, *, printed: str) -> Slip:
    """Everything the slip says. For owner and makers: it names the customer. `lines` with their lots and items."""
    customer = dispatch.customer
    reach = (customer.contact, *customer.reach.splitlines()) if customer else ()
    when = timezone.localtime(dispatch.posting.happened_at)
    pieces = sum(-line.quantity for line in lines)
    lots = len({line.lot_id for line in lines})
    return Slip(
        studio=studio.name,
        address=studio.place,
        number=str(dispatch),
        what=dispatch.get_kind_display(),
        to=customer.known_name if customer else "",
        reach=tuple(filter(None, (line.strip() for line in reach)))[:8],
        sent=f"{when.day} {when:%b %Y}",
        reference=dispatch.reference,
        channel=str(dispatch.channel or ""),
        state="Reversed: nothing left" if hasattr(dispatch.posting, "reversal") else "",
        lines=tuple(_line(line) for line in lines),
        in_all=f"{pieces:,} {'piece' if pieces == 1 else 'pieces'} in all, of {lots} {'lot' if lots == 1 else 'lots'}",
        keep=KEEP,
        printed=printed,
        page_size=studio.page_size,
    )


def _line(line: Movement) -> SlipLine:
    item, lot = line.lot.item, line.lot
    seconds = ", seconds" if lot.grade == Grade.SECOND else ""
    return SlipLine(f"{item.name}{seconds}", lot.code, item.quantity(-line.quantity))
