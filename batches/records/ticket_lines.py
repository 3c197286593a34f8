"""The table of materials or of components on the printed batch ticket.

Each line shows what to weigh or count, the lots suggested for it, and room for what was
really used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import Flowable, Paragraph, Table

from studio.web.pdf import (
    HAIR,
    INK,
    MONO_BOLD,
    RULE,
    SANS_BOLD,
    Blank,
    clipped,
    fitted,
    heading,
    height_of,
    label,
    markup,
    plain,
    style,
    table,
    text,
)

SUBLINES_MOST = (
    8  # a line with more lots or pours than this goes on in a further row, so that a row fits a page
)
NAME_MOST, SMALL_MOST = 200, 120  # characters; a longer text is shortened with an ellipsis
TARGET_PT, LOT_USED_PT, ACTUAL_PT, INITIALS_PT = 80.0, 64.0, 62.0, 29.0
# Lot codes and weights are read across a bench, and are written at one size.
READ_PT = 12.0
GAP_PT = 6.0
NBSP = "\N{NO-BREAK SPACE}"


@dataclass(frozen=True)
class TicketLot:
    """A suggested lot: its code as shown to people, where it stands, its amount and expiry; "" when none."""

    code: str
    place: str
    take: str
    expires: str


@dataclass(frozen=True)
class TicketLine:
    """One material or component, all of it finished text.

    `note` "fragrance · 8 % of wax", `target` "1,250 g", `tolerance` "± 1 g", `per_pour` the target of each
    pour or () when there is one pour, `short` "short by 120 g" or "".
    """

    item: str
    note: str
    target: str
    tolerance: str
    per_pour: tuple[str, ...]
    lots: tuple[TicketLot, ...]
    short: str


def lines_table(title: str, verb: str, lines: Sequence[TicketLine], *, width: float, pitch: float) -> Table:
    """The lines under `title`, `verb` over the targets; `pitch` points for each line to write on.

    It breaks between rows only and repeats its head. A row is at most `SUBLINES_MOST` lines tall.
    """
    item = 0.214 * width
    inner = [width - item - TARGET_PT - LOT_USED_PT - ACTUAL_PT - INITIALS_PT, LOT_USED_PT, ACTUAL_PT]
    heads = (verb, "Lot, how much, where it stands", "Lot used", "Actual", "By")
    rows: list[list[Any]] = [[heading(title), *(label(head) for head in heads)]]
    for line in lines:
        for start in range(0, _sublines(line), SUBLINES_MOST):
            words, aim = _item(line, start), _target(line, start)
            tall = 4 + max(height_of(words, item - GAP_PT), height_of(aim, TARGET_PT - GAP_PT))
            rows.append([words, aim, _room(line, start, inner, pitch, tall), "", "", ""])
    return table(
        rows,
        [item, TARGET_PT, *inner, INITIALS_PT],
        *(("SPAN", (2, row), (4, row)) for row in range(1, len(rows))),
        ("LINEABOVE", (0, 0), (-1, 0), RULE, INK),
        ("LINEBELOW", (0, 0), (-1, -1), HAIR, INK),
        ("LINEBEFORE", (5, 1), (5, -1), HAIR, INK),
        ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
        ("TOPPADDING", (0, 0), (-1, 0), 2),
        ("BOTTOMPADDING", (0, 0), (-1, 0), 2),
        ("LEFTPADDING", (3, 0), (5, 0), 4),
        ("TOPPADDING", (0, 1), (1, -1), 1),
        ("BOTTOMPADDING", (0, 1), (1, -1), 3),
        ("RIGHTPADDING", (0, 1), (1, -1), GAP_PT),
        repeatRows=1,
    )


def _sublines(line: TicketLine) -> int:
    """Lines to write on; one box is high enough for a second lot below the first."""
    return max(1, len(line.lots) + bool(line.short or not line.lots), len(line.per_pour))


def _room(line: TicketLine, start: int, widths: list[float], pitch: float, tall: float) -> Table:
    """One line for each lot and pour: the suggestion, room for the lot used, room for the weight.

    The lines share at least `tall` points, what the words to their left need.
    """
    shown = range(start, min(_sublines(line), start + SUBLINES_MOST))
    pitch = max(pitch, tall / len(shown))
    rows = []
    for at in shown:
        pour = f"pour {at + 1}" if at < len(line.per_pour) else ""
        rows.append([_suggestion(line, at), Blank(pitch), Blank(pitch, pour)])
    return table(
        rows,
        widths,
        ("VALIGN", (0, 0), (0, -1), "MIDDLE"),
        ("TOPPADDING", (0, 0), (0, -1), 1),
        ("BOTTOMPADDING", (0, 0), (0, -1), 2),
        ("RIGHTPADDING", (0, 0), (0, -1), 4),
        ("LEFTPADDING", (1, 0), (-1, -1), 4),
        ("LINEBEFORE", (1, 0), (-1, -1), HAIR, INK),
        ("LINEABOVE", (0, 1), (-1, -1), HAIR, INK, None, (1, 2)),
    )


def _suggestion(line: TicketLine, at: int) -> Flowable | str:
    """The lot on line `at`; after the last one, what is short."""
    if at < len(line.lots):
        return _lot(line.lots[at])
    if at == len(line.lots) and line.short:
        return text(f"! {clipped(line.short, 60)}", 9, font=SANS_BOLD)
    return "" if at else text("no lot on hand to suggest", 8, muted=True)


def _lot(lot: TicketLot) -> Paragraph:
    """Code and amount at one size, then place and expiry; a line may break inside a place, not inside a weight or date."""
    take = lot.take.replace(" ", NBSP)
    expires = f"exp. {lot.expires}".replace(" ", NBSP) if lot.expires else ""
    rest = clipped(" · ".join(filter(None, (lot.place, expires))), SMALL_MOST)
    code = markup(clipped(lot.code, 24).replace(" ", NBSP), MONO_BOLD, READ_PT)
    amount = markup(clipped(take, 40), SANS_BOLD, READ_PT)
    words = f"{code}&nbsp;&nbsp; {amount}{f' · {markup(rest)}' if rest else ''}"
    return Paragraph(words, style(8, leading=READ_PT * 1.12))


def _item(line: TicketLine, start: int) -> list[Flowable]:
    name = clipped(line.item, NAME_MOST) + (" (continued)" if start else "")
    whole = f"{line.target} in all" if line.per_pour else ""
    small = [text(clipped(words, SMALL_MOST), 8, muted=True) for words in (line.note, whole) if words]
    return [text(name, 9.5, font=SANS_BOLD), *small]


def _target(line: TicketLine, start: int) -> list[Flowable]:
    """The weight to aim at, as large as it fits: of each pour when there are several."""
    pours = line.per_pour[start : start + SUBLINES_MOST]
    if len(set(line.per_pour)) > 1:
        said = [_hero(pour, f"{number}: ") for number, pour in enumerate(pours, start=start + 1)]
    elif start:
        return []
    else:
        said = [_hero(pours[0], f"{len(line.per_pour)} × ") if pours else _hero(line.target, "")]
    return [*said, text(clipped(line.tolerance, 40), 8)] if line.tolerance else said


def _hero(quantity: str, before: str) -> Paragraph:
    """A quantity at the size of what is read across a bench, a very long one as large as fits: "1,250 g"."""
    words = plain(clipped(quantity, 40))
    figure, _, unit = words.rpartition(" ") if " " in words else (words, "", "")
    room = TARGET_PT - GAP_PT - 4 - 5.5 * len(before) - 5.5 * len(unit)
    size = fitted(figure, room, READ_PT, 8, font=SANS_BOLD)
    said = f"{markup(before)}{markup(figure, SANS_BOLD, size)}{markup(NBSP + unit) if unit else ''}"
    return Paragraph(said, style(9, leading=size * 1.15))
