"""From a lot to the texts of its printed label."""

from datetime import date

from inventory.labels.sheets import Label, Layout
from inventory.models import Grade, Kind, LabelLayout, Lot

NBSP = "\N{NO-BREAK SPACE}"
FIGURES = (
    "page_width_um",
    "page_height_um",
    "rows",
    "columns",
    "left_um",
    "top_um",
    "label_width_um",
    "label_height_um",
    "gap_x_um",
    "gap_y_um",
)


SHEETS = {"A4": (210_000, 297_000), "Letter": (215_900, 279_400)}


def layouts_for(paper: str) -> list[LabelLayout]:
    """The layouts on offer, the likeliest first: the usual one, unless it is a sheet of paper the studio does not use."""
    other = {size for name, size in SHEETS.items() if name != paper}

    def rank(layout: LabelLayout) -> tuple[bool, bool, int]:
        return (layout.page_width_um, layout.page_height_um) in other, not layout.is_default, layout.pk

    return sorted(LabelLayout.objects.filter(retired=False), key=rank)


def layout_of(row: LabelLayout) -> Layout:
    """The figures of a layout the studio keeps."""
    return Layout(**{name: getattr(row, name) for name in FIGURES})


def label_of(lot: Lot, *, came: str, arrived_on: date, on: date, url: str) -> Label:
    """What the label of a lot says on a day. `came` is how it came ("Arrived"), `url` what the QR code leads to.

    The quantity carries the day it was printed: a label is not rewritten at every draw. Finished goods are not
    opened here and have no line for it.
    """
    item = lot.item
    opened = _day(lot.opened_on) if lot.opened_on else ""
    seconds = "Seconds" if lot.grade == Grade.SECOND else ""
    quantity = item.quantity(lot.on_hand)
    return Label(
        code=lot.code,
        url=url,
        item=item.name,
        kind=item.kind_words,
        quantity=f"{quantity} on {_day(on)}" if lot.on_hand else "",
        supplier_lot=lot.supplier_lot,
        arrived=f"{came} {_day(arrived_on)}",
        expires=f"Expires {_day(lot.expires_on)}" if lot.expires_on else "",
        opened=None if item.kind == Kind.FINISHED else opened,
        place=lot.place,
        note=" · ".join(part for part in (lot.container, seconds) if part),
    )


def _day(day: date) -> str:
    return f"{day.day}{NBSP}{day:%b}{NBSP}{day.year}"
