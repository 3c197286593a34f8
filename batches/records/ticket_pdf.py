"""The printed batch ticket: the sheet that lies beside the melting pot and is written on with a pen.

A `Ticket` of finished texts in, PDF bytes out; the same ticket gives the same bytes. What the sheet asks for
follows two published lists of what a batch record holds, 21 CFR 211.188 and 21 CFR 111.260: batch number,
each material with its lot and weight, equipment, dates of each step, readings, actual yield, label check,
and who did, who checked and who released.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reportlab.platypus import (
    CondPageBreak,
    Flowable,
    NextPageTemplate,
    Paragraph,
    Spacer,
    Table,
)

from batches.records.ticket_lines import NAME_MOST, SUBLINES_MOST, TicketLine, TicketLot, lines_table
from studio.web.pdf import (
    FOOT_PT,
    FOOT_ROOM_PT,
    HAIR,
    INK,
    MONO_BOLD,
    RULE,
    SANS_BOLD,
    SIDE_PT,
    Blank,
    RuledLines,
    TickBox,
    as_pdf,
    clipped,
    code128,
    draw_foot,
    fitted,
    grouped,
    heading,
    height_of,
    label,
    markup,
    paper_size,
    qr_code,
    shares,
    sheet_page,
    style,
    table,
    text,
    width_of,
    write_in,
)

__all__ = ["Ticket", "TicketLine", "TicketLot", "ticket_pdf"]

CAVEAT = (
    "This sheet records and computes; it does not certify. Local codes, the supplier's safety data sheet "
    "and a competent person decide."
)
LABEL_CHECKS = (
    "Label text and net weight match the approved ones",
    "Batch code on every unit",
    "Warning label on every unit, in sight and uncovered",
)
# Heights of a box to write in: 10 mm at least (72 pt to the inch of 25.4 mm), for a pen in a hand at a hot pot.
LEAST_PITCH_PT = 28.5
PITCHES_PT = (34.0, 32.0, 30.0, LEAST_PITCH_PT)
FLOWING_PITCH_PT = LEAST_PITCH_PT
HEAD_ROOM_PT = 22.0
QR_PT = 72.0
QUIET_PT = 7.0
STEP_MOST, CAUTION_MOST, FACT_MOST = 300, 400, 120  # characters, then an ellipsis


@dataclass(frozen=True)
class Ticket:
    """All that the sheet says, as finished texts.

    `batch_code` without spaces, `batch_url` for the QR code, `steps` pairs such as ("Heat the wax to",
    "85 °C"), `page_size` "A4" or "Letter". An empty fact is left out. `fill` is what each vessel is filled to, `fill_now`
    a sentence on what the melt fills where it weighs another amount than planned.
    """

    studio: str
    batch_code: str
    batch_url: str
    product: str
    formula: str
    formula_state: str
    planned: str
    planned_on: str
    melt: str
    load: str
    pours: str
    materials: tuple[TicketLine, ...]
    components: tuple[TicketLine, ...]
    steps: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]
    printed: str
    page_size: str
    notes: str
    fill: str = ""
    fill_now: str = ""
    ready: str = ""


def ticket_pdf(ticket: Ticket) -> bytes:
    """The ticket as a PDF document, on as few pages as leave room to write, with the widest lines that do so.

    Rows are never cut by a page end. Raises ValueError, with a sentence for the person, when the page size is
    unknown, the batch code cannot be a barcode or the address is too long for the QR code.
    """
    if not 1 <= len(ticket.batch_code) <= 20:
        raise ValueError("A batch code on a ticket has 1 to 20 characters.")
    sheets = [_Sheet(ticket, pitch, one_page=True) for pitch in PITCHES_PT]
    fitting = next((sheet for sheet in sheets if sheet.fits()), None)
    return (fitting or _Sheet(ticket, FLOWING_PITCH_PT, one_page=False)).build()


class _Sheet:
    """One way of laying a ticket out, with `pitch` points for each line to write on.

    On one page the cautions stand beside the steps. On several they come first, before anything is weighed.
    """

    def __init__(self, ticket: Ticket, pitch: float, *, one_page: bool) -> None:
        self.ticket, self.pitch, self.one_page = ticket, pitch, one_page
        self.page_width, self.page_height = paper_size(ticket.page_size)
        self.width = self.page_width - 2 * SIDE_PT
        self.code = grouped(ticket.batch_code)
        self.pours = max((len(line.per_pour) for line in ticket.materials), default=0)

    def fits(self) -> bool:
        return height_of(self._story(), self.width) <= self.page_height - HEAD_ROOM_PT - FOOT_ROOM_PT

    def build(self) -> bytes:
        size = self.page_width, self.page_height
        pages = [
            sheet_page("first", size, HEAD_ROOM_PT, self._furniture),
            sheet_page("later", size, HEAD_ROOM_PT + 30, self._furniture),
        ]
        story = [NextPageTemplate("later"), *self._story(), RuledLines("Remarks", self.pitch, 8)]
        return as_pdf(story, pages, size, title=f"Batch ticket {self.code}", author=self.ticket.studio)

    def _furniture(self, canvas: Any, document: Any) -> None:
        """The foot of each page and, from the second on, whose page it is."""
        printed = markup(clipped(self.ticket.printed, 80))
        foot = Paragraph(f"{markup(self.code, MONO_BOLD)} &nbsp; {printed}", style(8))
        draw_foot(canvas, foot, self.width)
        caveat = text(CAVEAT, 8, muted=True)
        caveat.wrapOn(canvas, self.width, 12)
        caveat.drawOn(canvas, SIDE_PT, FOOT_PT + 9)
        if document.page > 1:
            formula = markup(clipped(self.ticket.formula, 80))
            head = Paragraph(f"{markup(self.code, MONO_BOLD, 13)} &nbsp; {formula}", style(9))
            head.wrapOn(canvas, self.width, 30)
            head.drawOn(canvas, SIDE_PT, self.page_height - 42)

    def _story(self) -> list[Flowable]:
        ticket = self.ticket

        def gap() -> Spacer:
            # One of its own for each place: the layout marks a piece it moved to the next page, and gives up on
            # one that it meets marked again.
            return Spacer(0, 0.25 * self.pitch)

        parts: list[Flowable] = [self._header(), self._facts(), self._write_in(), gap()]
        if not self.one_page:
            parts += [self._cautions(self.width), gap()]
        for title, verb, lines in (
            ("Materials", "Weigh", ticket.materials),
            ("Components", "Count", ticket.components),
        ):
            if lines:
                parts += [lines_table(title, verb, lines, width=self.width, pitch=self.pitch), gap()]
        if self.one_page:
            parts += self._steps_beside_cautions()
        else:
            steps = self._steps(self.width)
            parts += [CondPageBreak(height_of(steps, self.width)), *steps]
        parts += [gap(), self._outcome(), Spacer(0, 5)]
        if ticket.notes:
            words = f"{markup('Notes', SANS_BOLD)} &nbsp; {markup(ticket.notes.strip(), lines=True)}"
            parts += [Paragraph(words, style(8.5)), Spacer(0, 5)]
        return [*parts, self._signatures()]

    # -- top of the sheet ------------------------------------------------------------------------------------

    def _header(self) -> Flowable:
        ticket = self.ticket
        bars = code128(ticket.batch_code, width=0.5 * self.width, height=QR_PT - 2 * QUIET_PT)
        symbols = bars.width + QR_PT
        left = self.width + QUIET_PT - symbols  # the quiet zone of the QR code may lie in the margin
        size = fitted(self.code, left - 8, 34, 10, font=MONO_BOLD)
        product, formula = clipped(ticket.product, NAME_MOST), clipped(ticket.formula, NAME_MOST)
        version = formula.removeprefix(product).lstrip(", ")
        said = (markup(version), markup(clipped(ticket.formula_state, 60), SANS_BOLD))
        words = [
            text(f"{clipped(ticket.studio, 60)} · batch ticket", 8, muted=True),
            text(self.code, size, font=MONO_BOLD, leading=1.08 * size),
            text(product, 14, font=SANS_BOLD),
            Paragraph(" · ".join(filter(None, said)), style(9.5)),
        ]
        return table(
            [[words, bars, qr_code(ticket.batch_url, size=QR_PT)]],
            [left, bars.width, QR_PT],
            ("RIGHTPADDING", (0, 0), (0, 0), 8),
            ("TOPPADDING", (1, 0), (1, 0), QUIET_PT),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
        )

    def _facts(self) -> Flowable:
        """What is made, and the pourer's one number larger than all else; below it how."""
        ticket = self.ticket
        planned = " · ".join(filter(None, (ticket.planned, ticket.planned_on)))
        above = [("Planned", planned), ("Fill each to", ticket.fill), ("Melt", ticket.melt)]
        below = [("Fragrance load", ticket.load), ("Pours", ticket.pours), ("Ready on", ticket.ready)]
        rows = [row for facts in (above, below) if (row := self._fact_row(facts))]
        if ticket.fill_now:
            rows.append(text(f"! {clipped(ticket.fill_now, STEP_MOST)}", 9.5, font=SANS_BOLD))
        return table(
            [[row] for row in rows or [""]],
            [self.width],
            ("LINEABOVE", (0, 0), (-1, 0), RULE, INK),
            ("TOPPADDING", (0, 0), (-1, -1), 3),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 3),
        )

    def _fact_row(self, facts: Sequence[tuple[str, str]]) -> Flowable | None:
        sizes = {"Fill each to": 16.0}
        shown = [(name, clipped(value, FACT_MOST), sizes.get(name, 9.5)) for name, value in facts if value]
        if not shown:
            return None
        cells = [[label(name), text(value, size, font=SANS_BOLD)] for name, value, size in shown]
        natural = [max(50, width_of(value, SANS_BOLD, size)) + 9 for _, value, size in shown]
        return table([cells], shares(self.width, natural), ("RIGHTPADDING", (0, 0), (-1, -1), 8))

    def _write_in(self) -> Flowable:
        names = ("Poured on", "Started", "Finished", "Scale", "Pot", "Bench clean before, by")
        return write_in([(name, "") for name in names], self.width, self.pitch + 4, (3, 2, 2, 2, 2, 3))

    # -- how it is done --------------------------------------------------------------------------------------

    def _steps_beside_cautions(self) -> list[Flowable]:
        right = 0.4 * self.width
        left = self.width - right - 14
        return [table([[self._steps(left), "", self._cautions(right)]], [left, 14, right])]

    def _steps(self, width: float) -> list[Flowable]:
        """Each step with its aim and room for a reading of each pour; then the label check."""
        fixed = [56.0, 48.0, 40.0, 30.0] if self.one_page else [100.0, 80.0, 60.0, 40.0]
        pours = range(1, min(self.pours, SUBLINES_MOST) + 1)
        heads = ("Aim", "Reading", "Time", "By")
        rows: list[list[Any]] = [[heading("Steps"), *(label(head) for head in heads)]]
        for number, (step, aim) in enumerate(self.ticket.steps, start=1):
            name = text(f"{number}  {clipped(step, STEP_MOST)}", 9)
            room = [Blank(self.pitch, f"pour {pour}") for pour in pours] or [Blank(self.pitch)]
            rows.append([name, text(clipped(aim, 60), 10, font=SANS_BOLD), room, "", ""])
        steps = table(
            rows,
            [width - sum(fixed), *fixed],
            ("LINEABOVE", (0, 0), (-1, 0), RULE, INK),
            ("LINEBELOW", (0, 0), (-1, -1), HAIR, INK),
            ("LINEBEFORE", (2, 1), (-1, -1), HAIR, INK),
            ("VALIGN", (0, 0), (-1, 0), "BOTTOM"),
            ("VALIGN", (0, 1), (1, -1), "MIDDLE"),
            ("TOPPADDING", (0, 0), (-1, 0), 2),
            ("BOTTOMPADDING", (0, 0), (1, -1), 2),
            ("BOTTOMPADDING", (2, 0), (-1, 0), 2),
            ("RIGHTPADDING", (0, 0), (1, -1), 4),
            ("LEFTPADDING", (2, 0), (-1, -1), 4),
            repeatRows=1,
        )
        return [*([steps] if self.ticket.steps else []), Spacer(0, 5), self._label_check(width)]

    def _cautions(self, width: float) -> Table:
        rows = [["", heading("Cautions")]]
        rows += [["!", text(clipped(caution, CAUTION_MOST), 8)] for caution in self.ticket.cautions]
        return table(
            rows,
            [14, width - 14],
            ("BOX", (0, 0), (-1, -1), RULE, INK),
            ("FONT", (0, 0), (0, -1), SANS_BOLD, 8, 9.6),
            ("ALIGN", (0, 0), (0, -1), "CENTER"),
            ("RIGHTPADDING", (1, 0), (1, -1), 5),
            ("TOPPADDING", (0, 0), (-1, 0), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
        )

    # -- what came out ---------------------------------------------------------------------------------------

    def _outcome(self) -> Flowable:
        planned = self.ticket.planned and f"of {clipped(self.ticket.planned, 24)}"
        counts = [("Poured", planned), ("Good", ""), ("Seconds", ""), ("Scrap", ""), ("Remelt", "")]
        boxes = [*counts, ("Defects: which, how many", "")]
        return write_in(boxes, self.width, 1.2 * self.pitch, (5, 4, 4, 4, 5, 9))

    def _label_check(self, width: float) -> Table:
        rows = [[TickBox(), text(check, 8.5)] for check in LABEL_CHECKS]
        return table(
            rows,
            [14, width - 14],
            ("TOPPADDING", (0, 0), (0, -1), 1.5),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2),
        )

    def _signatures(self) -> Flowable:
        boxes = [(name, "date") for name in ("Poured by", "Checked by", "Released by")]
        return write_in(boxes, self.width, 1.2 * self.pitch)
