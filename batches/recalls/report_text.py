"""From a recall to the texts of its closing report, and to the rows of its tables as files.

The tables carry what traceability practice asks of a sortable sheet (21 CFR 1.1345 and 1.1340, a model and no law for
candles): lot code and who gave it, quantity and unit, what it is, who sent it and who got it, the date, and the type and
number of the document.
"""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from fractions import Fraction
from typing import Any

from django.utils import timezone

from batches.models import RecallAnswer, RecallLot, RecallSent
from batches.recalls.letters import DRILL
from batches.recalls.progress import PartyProgress, Progress
from batches.recalls.report_pdf import RecallReport, ReportTable
from inventory.models import Lot
from studio.core.durations import duration_text
from studio.core.percent import format_percent
from studio.core.quantities import to_unit
from studio.models import Studio, User
from studio.web.pdf import grouped
from studio.web.tables import exact_cell

SENT_HEAD = (
    "Recall",
    "Lot code",
    "Batch code on the jar",
    "Lot code given by",
    "What it is",
    "Quantity",
    "Unit",
    "Sent on",
    "Sent from",
    "Sent to",
    "How to reach them",
    "Channel",
    "Document type",
    "Document number",
    "Order reference",
    "Taken in by step",
)
LOTS_HEAD = (
    "Recall",
    "Suspect",
    "Lot code",
    "Batch code",
    "What it is",
    "Supplier",
    "Supplier's lot",
    "Arrived or made",
    "Unit",
    "Came",
    "Used",
    "Decanted",
    "Sent",
    "Lost or sampled",
    "On hand",
    "Unexplained",
    "On hold before",
    "Held by the recall",
    "Taken in by step",
)
CUSTOMERS_HEAD = (
    "Recall",
    "Customer",
    "How to reach them",
    "What it is",
    "Unit",
    "Sent",
    "Told on",
    "Answered on",
    "Returned",
    "Destroyed",
    "Used up before",
    "Not accounted for",
    "State",
)
ANSWERS_HEAD = (
    "Recall",
    "Customer",
    "What",
    "On",
    "What it is",
    "Quantity",
    "Unit",
    "Note",
    "By",
    "Recorded",
    "Taken back",
)


def head_of(head: tuple[str, ...], *, is_drill: bool) -> tuple[str, ...]:
    """The heads of a table's columns; a drill's first one says what it is, where there is no row to say it."""
    return (f"{head[0]} ({DRILL})", *head[1:]) if is_drill else head


def batch_code(lot: Lot) -> str:
    """The code of the batch it came of, as it is on the jar; empty where it was bought. Wants its outcome read along."""
    outcome = getattr(lot, "outcome", None)
    return outcome.batch.code if outcome else ""


def _code(lot: Lot) -> str:
    return grouped(batch_code(lot) or lot.code)


def _day(moment: datetime) -> str:
    local = timezone.localtime(moment)
    return f"{local.day} {local:%b %Y}"


def _minute(moment: datetime) -> str:
    return f"{_day(moment)}, {timezone.localtime(moment):%H:%M}"


def _percent(share: Fraction | None) -> str:
    return "–" if share is None else format_percent(share * 10**6, places=1)


def report_of(progress: Progress, studio: Studio, *, by: User, now: datetime, printed: str) -> RecallReport:
    """Everything the report says. `by` is who reads it: private persons are named to owner and makers alone."""
    recall = progress.recall
    ran = progress.ran(now)
    facts = [
        ("Began", f"{_minute(recall.started_at)}, {recall.started_by}"),
        ("Ended", f"{_minute(recall.ended_at)}, {recall.ended_by}" if recall.ended_at else "still open"),
        ("Suspect", "; ".join(_suspect(lot) for lot in progress.suspects)),
    ]
    if recall.is_drill:
        facts.append(
            (
                "Against practice",
                f"{duration_text(ran)}: {progress.against_practice(now)} the 4 hours food schemes ask for (BRCGS 3.9)",
            )
        )
        facts.append(("A drill", "Nothing was held, and nobody was told."))
    return RecallReport(
        studio=studio.name,
        title=recall.title_words,
        code=recall.code,
        facts=tuple(facts),
        figures=_figures(progress, ran),
        words=(
            ("Why", recall.why),
            ("What customers are asked to do", recall.advice),
            ("What was found", recall.finding),
        ),
        parts=tuple(
            replace(part, title=f"{DRILL}: {part.title}") if recall.is_drill else part
            for part in (_lots_part(progress), _customers_part(progress, by), _answers_part(progress, by))
        ),
        printed=printed,
        page_size=studio.page_size,
    )


def _suspect(lot: RecallLot) -> str:
    of = f", supplier's lot {lot.lot.supplier_lot}" if lot.lot.supplier_lot else ""
    return f"{lot.lot.spaced_code} {lot.lot.item}{of}"


def _figures(progress: Progress, ran: timedelta) -> tuple[tuple[str, str], ...]:
    customers = len(progress.parties)
    return (
        ("Time taken", duration_text(ran)),
        ("Lots affected", str(len(progress.lots))),
        ("On hold", f"{len(progress.held)}"),
        ("Units affected", str(progress.units_made)),
        ("Units sent out", str(progress.units_sent)),
        ("Units still here", str(progress.units_here)),
        ("Units lost or sampled", str(progress.units_lost)),
        ("Suspect quantity traced", _percent(progress.traced_share)),
        ("Customers", str(customers)),
        ("Told", f"{progress.told} of {customers}, {_percent(progress.told_share)}"),
        ("Answered", f"{progress.answered} of {customers}, {_percent(progress.answered_share)}"),
        (
            "Units accounted for",
            f"{progress.units_accounted} of {progress.units_sent}, {_percent(progress.accounted_share)}",
        ),
    )


def _lots_part(progress: Progress) -> ReportTable:
    def row(each: RecallLot) -> tuple[str, ...]:
        shown = each.lot.item.quantity
        hold = "before" if each.held_before else "by the recall" if each.held_now else "–"
        figures = (each.came, each.used, each.decanted, each.sent, each.lost, each.on_hand, each.unexplained)
        return (
            grouped(each.lot.code) + (" (suspect)" if each.suspect else ""),
            str(each.lot.item),
            *(shown(figure) for figure in figures),
            hold,
        )

    heads = (
        "Lot",
        "What it is",
        "Came",
        "Used",
        "Decanted",
        "Sent",
        "Lost",
        "Here",
        "Unexplained",
        "On hold",
    )
    widths = (1.4, 2, 1.2, 1.2, 1.2, 1, 0.9, 1.2, 1.6, 1.3)
    return ReportTable(
        "Lots, as they stood", heads, frozenset(range(2, 9)), widths, [row(lot) for lot in progress.lots]
    )


def _customers_part(progress: Progress, by: User) -> ReportTable:
    rows = [
        (
            each.party.display_name(by),
            str(goods.item),
            ", ".join(
                dict.fromkeys(_code(sent.lot) for sent in each.sent if sent.lot.item_id == goods.item.pk)
            ),
            goods.item.quantity(goods.sent),
            f"{each.told_on.day} {each.told_on:%b %Y}" if each.told_on else "–",
            goods.item.quantity(goods.accounted),
            goods.item.quantity(goods.left),
            each.state[1],
        )
        for each in progress.parties
        for goods in each.goods.values()
    ]
    heads = ("Customer", "What it is", "Codes on the jars", "Sent", "Told", "Accounted for", "Left", "State")
    return ReportTable(
        "Customers",
        heads,
        frozenset({3, 5, 6}),
        (2, 2, 1.8, 0.8, 1.1, 1, 0.8, 1.3),
        rows,
        "Nothing went out.",
    )


def _answers_part(progress: Progress, by: User) -> ReportTable:
    rows = [
        (
            f"{said.on.day} {said.on:%b %Y}",
            each.party.display_name(by),
            f"{said.get_kind_display()}{', taken back' if _undone(said) else ''}",
            said.item.quantity(said.quantity) if said.item else "",
            said.note,
            str(said.by),
        )
        for each in progress.parties
        for said in each.answers
        if not said.takes_back_id
    ]
    heads = ("On", "Customer", "What", "Quantity", "Note", "Entered by")
    return ReportTable(
        "What was told and answered",
        heads,
        frozenset({3}),
        (1, 2, 1.4, 0.8, 3, 1),
        sorted(rows),
        "Nothing was entered.",
    )


def _undone(said: RecallAnswer) -> bool:
    return hasattr(said, "taken_back")


def _cell(quantity: int, unit: str) -> Any:
    return exact_cell(to_unit(quantity, unit))


def sent_rows(progress: Progress, studio: Studio, by: User) -> Iterator[tuple[Any, ...]]:
    """One row for each lot of each dispatch, as `SENT_HEAD` names its cells."""
    for each in progress.parties:
        for sent in each.sent:
            yield _sent_row(progress, studio, by, each, sent)


def _sent_row(
    progress: Progress, studio: Studio, by: User, each: PartyProgress, sent: RecallSent
) -> tuple[Any, ...]:
    lot, dispatch = sent.lot, sent.dispatch
    return (
        progress.recall.code_words,
        lot.code,
        batch_code(lot),
        studio.name,
        str(lot.item),
        _cell(sent.quantity, lot.item.unit),
        lot.item.unit,
        sent.sent_at,
        studio.name,
        each.party.display_name(by),
        reach_of(each, by),
        str(dispatch.channel or ""),
        dispatch.get_kind_display(),
        str(dispatch.posting_id),
        dispatch.reference,
        sent.step.number,
    )


def reach_of(each: PartyProgress, by: User) -> str:
    """How somebody is reached, for owner and makers."""
    return each.party.customer.reached(by) if each.party.customer else ""


def lot_rows(progress: Progress) -> Iterator[tuple[Any, ...]]:
    """One row for each lot as it stood, as `LOTS_HEAD` names its cells."""
    for each in progress.lots:
        lot, unit = each.lot, each.lot.item.unit
        figures = (each.came, each.used, each.decanted, each.sent, each.lost, each.on_hand, each.unexplained)
        yield (
            progress.recall.code_words,
            "yes" if each.suspect else "no",
            lot.code,
            batch_code(lot),
            str(lot.item),
            str(lot.supplier or ""),
            lot.supplier_lot,
            lot.arrived_at,
            unit,
            *(_cell(figure, unit) for figure in figures),
            "yes" if each.held_before else "no",
            "yes" if each.held_now else "no",
            each.step.number,
        )


def customer_rows(progress: Progress, by: User) -> Iterator[tuple[Any, ...]]:
    """One row for each customer and product, as `CUSTOMERS_HEAD` names its cells."""
    for each in progress.parties:
        for goods in each.goods.values():
            unit = goods.item.unit
            yield (
                progress.recall.code_words,
                each.party.display_name(by),
                reach_of(each, by),
                str(goods.item),
                unit,
                _cell(goods.sent, unit),
                each.told_on,
                each.answered_on,
                *(_cell(q, unit) for q in (goods.returned, goods.destroyed, goods.used_up, goods.left)),
                each.state[1],
            )


def answer_rows(progress: Progress, by: User) -> Iterator[tuple[Any, ...]]:
    """One row for each entry, those taken back among them, as `ANSWERS_HEAD` names its cells."""
    for each in progress.parties:
        for said in each.answers:
            if said.takes_back_id:
                continue
            yield (
                progress.recall.code_words,
                each.party.display_name(by),
                said.get_kind_display(),
                said.on,
                str(said.item or ""),
                _cell(said.quantity, said.item.unit) if said.item else None,
                said.item.unit if said.item else "",
                said.note,
                str(said.by),
                said.at,
                "yes" if _undone(said) else "no",
            )
