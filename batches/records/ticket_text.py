"""From a batch to the texts of its printed ticket."""

from collections.abc import Iterable, Mapping, Sequence

from django.utils import timezone

from batches.formulas.cautions import cautions
from batches.formulas.fine_weights import FINE, PLACES
from batches.formulas.loads import load_words
from batches.formulas.process_steps import steps
from batches.formulas.tolerance import tolerance_of
from batches.models import Batch, Draw, FormulaVersion, ready_on
from batches.planning.fill_each import each_words, fill_of, melt_words
from batches.planning.plan_composition import inside_of
from batches.planning.planning import Need, Plan
from batches.planning.pours import pours_words
from batches.records.ticket_pdf import Ticket, TicketLine, TicketLot
from inventory.models import Unit
from studio.core.quantities import format_quantity
from studio.models import Studio


def ticket_of(
    batch: Batch,
    plan: Plan,
    studio: Studio,
    draws: Iterable[Draw],
    *,
    url: str,
    printed: str,
    owners_word: str = "",
) -> Ticket:
    """Everything the ticket says, in the studio's units. `url` is what the QR code leads to.

    `draws` are those that stand: what was drawn already is printed beside what is still to be taken. `owners_word`
    says on whose word the version was approved although something was wanting; it stands before the cautions.
    """
    version = batch.version
    unit = studio.scale
    item = batch.item
    taken: dict[int, list[TicketLot]] = {}
    draws = list(draws)
    inside = inside_of(plan, draws)
    for draw in draws:
        taken.setdefault(draw.line_id, []).append(_drawn(draw))
    fill = fill_of(version, plan.weighed)
    planned = f"{item.quantity(batch.quantity)}{' units' if version.fill_ug else ''}"
    return Ticket(
        studio=studio.name,
        batch_code=batch.code,
        batch_url=url,
        product=item.name,
        formula=str(version),
        formula_state=version.get_state_display(),
        planned=planned,
        planned_on=f"{batch.planned_on:%a %d %b %Y}",
        melt=format_quantity(round(plan.sheet.melt), studio.mass_unit),
        load=load_words(version.lines.all(), plan.sheet, inside),
        pours=pours_words(plan.sheet, studio),
        materials=tuple(_line(need, version, taken) for need in plan.weighed),
        components=tuple(_line(need, version, taken) for need in plan.counted),
        steps=steps(version, unit),
        cautions=tuple(filter(None, (owners_word, *cautions(version, plan.sheet, unit=unit, inside=inside)))),
        printed=printed,
        page_size=studio.page_size,
        notes="\n".join(part for part in (version.notes, batch.note) if part),
        fill=each_words(fill, studio),
        fill_now=melt_words(fill, batch.quantity, studio),
        ready=ready_words(batch),
    )


def ready_words(batch: Batch) -> str:
    """The day it has cured; of a batch that is not finished yet, if it is on the day planned."""
    if batch.finished_at:
        finished_on = timezone.localtime(batch.finished_at).date()
        return f"{ready_on(batch.version, finished_on) or finished_on:%a %d %b %Y}"
    ready = ready_on(batch.version, batch.planned_on)
    return f"{ready:%a %d %b %Y} if finished on the day planned" if ready else "the day it is finished"


def _drawn(draw: Draw) -> TicketLot:
    lot = draw.movement.lot
    return TicketLot(lot.spaced_code, "drawn", lot.item.quantity(draw.quantity), "")


def _line(need: Need, version: FormulaVersion, taken: Mapping[int, list[TicketLot]]) -> TicketLine:
    item, target = need.item, need.target
    return TicketLine(
        item=item.name,
        note=f"{item.kind_words.lower()} · {need.line.amount_words}",
        target=item.quantity(target.total),
        tolerance=_tolerance(need, version),
        per_pour=_per_pour(target.pours, need),
        lots=(
            *taken.get(need.line.pk, ()),
            *(
                TicketLot(
                    code=pick.lot.spaced_code,
                    place=" · ".join(
                        filter(None, (pick.lot.place, "owner allows it" if pick.allowed else ""))
                    ),
                    take=item.quantity(pick.quantity),
                    expires=f"{pick.lot.expires_on:%d %b %Y}" if pick.lot.expires_on else "",
                )
                for pick in need.picks
            ),
        ),
        short="; ".join(
            filter(
                None,
                (
                    f"short by {item.quantity(need.short)}" if need.short else "",
                    "not all lots as chosen" if need.notes else "",
                ),
            )
        ),
    )


def _tolerance(need: Need, version: FormulaVersion) -> str:
    """How far the weight may be off, where something is weighed; of one pour when there are several alike."""
    if not need.is_weighed:
        return ""
    pours = need.target.pours
    shares = {tolerance_of(pour, need.line.tolerance_ppm, version.division_ug) for pour in pours}
    # A tolerance is read against the small unit: 1 g rather than 0.001 kg.
    unit = FINE.get(Unit(need.item.unit), need.item.unit)
    shown = format_quantity(min(shares), unit, places=PLACES.get(unit))
    return f"± {shown}{' each' if len(pours) > 1 else ''}"


def _per_pour(pours: Sequence[int], need: Need) -> tuple[str, ...]:
    return tuple(need.item.quantity(pour) for pour in pours) if len(pours) > 1 else ()
