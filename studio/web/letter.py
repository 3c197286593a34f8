"""A sheet to somebody outside the studio: who sends it and to whom, the facts at its right, and whose it is on later pages.

What the purchase order and the packing slip share. Finished texts in, pieces of a page out.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from reportlab.platypus import Flowable, PageTemplate, Paragraph, Spacer, Table

from studio.web.pdf import SANS_BOLD, SIDE_PT, clipped, draw_foot, label, sheet_page, table, text

HEAD_ROOM_PT, LATER_HEAD_PT, LATER_BASE_PT = 40.0, 60.0, 44.0
NAME_MOST, SMALL_MOST, FACT_MOST = 200, 120, 60  # characters, then an ellipsis


def letter_pages(
    size: tuple[float, float], *, foot: Callable[[], Paragraph], later: Callable[[], Paragraph]
) -> list[PageTemplate]:
    """The first page and those after it: `foot` at the foot of each, `later` at the top from the second on."""
    width = size[0] - 2 * SIDE_PT

    def furniture(canvas: Any, document: Any) -> None:
        draw_foot(canvas, foot(), width)
        if document.page > 1:
            head = later()
            head.wrapOn(canvas, width, 30)
            head.drawOn(canvas, SIDE_PT, size[1] - LATER_BASE_PT)

    return [
        sheet_page("first", size, HEAD_ROOM_PT, furniture, "later"),
        sheet_page("later", size, LATER_HEAD_PT, furniture, "later"),
    ]


def letter_head(
    width: float,
    *,
    studio: str,
    address: Iterable[str],
    caption: str,
    to: str,
    reach: Iterable[str],
    aside: float,
    title: Sequence[Flowable],
    facts: Iterable[tuple[str, str]],
    state: str,
) -> Table:
    """Who writes at the left, and under `caption` to whom; at the right, `aside` points wide, `title`, the facts that are
    not empty, and the `state` that keeps it from being in force."""
    left: list[Flowable] = [
        text(clipped(studio, NAME_MOST), 15, font=SANS_BOLD),
        *[text(clipped(line, SMALL_MOST), 9.5) for line in address],
        Spacer(0, 20),
        label(caption),
        text(clipped(to, NAME_MOST), 11.5, font=SANS_BOLD),
        *[text(clipped(line, SMALL_MOST), 9.5) for line in reach if line],
    ]
    right = list(title)
    for name, said in facts:
        if said:
            right += [Spacer(0, 5), label(name), text(clipped(said, FACT_MOST), 10.5)]
    if state:
        right += [Spacer(0, 8), text(clipped(state, FACT_MOST), 10.5, font=SANS_BOLD)]
    return table([[left, right]], [width - aside, aside], ("RIGHTPADDING", (0, 0), (0, 0), 18))
