"""What really went into a batch: recorded line by line, lot by lot, and put right afterwards."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.forms import Form
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from batches.fetch import batch_of
from batches.models import Batch, Draw
from batches.planning import plans
from batches.planning.planning import Need, plan_of_batch
from batches.production import runs
from batches.production.forms import NOT_KNOWN, CorrectForm, DrawForm, DrawRowForm, WhenForm
from batches.production.meanwhile import Meanwhile, check_meanwhile
from batches.production.off_formula_of import last_pot
from inventory.ledger import books, closing
from inventory.lots.moving import Taking
from inventory.models import Item, Posting
from studio.core.quantities import entry_text
from studio.people.access import MAKERS, allow
from studio.web.filters import whole_number
from studio.web.requests import StudioRequest, answer, sign, today
from studio.web.submissions import once

ROWS_AT_MOST = 12


@dataclass
class LineRows:
    """One line of the formula with its rows of lot and amount."""

    need: Need
    rows: list[DrawRowForm]
    # Base units that whoever filled it in knew to be in already; None where the page did not say.
    seen: int | None = None
    asked: bool = False

    @property
    def carried(self) -> int:
        """What the page carries as seen: once it was asked about, what is in by now, so that a second press answers."""
        return self.need.drawn if self.asked or self.seen is None else self.seen

    @property
    def seen_name(self) -> str:
        """The hidden field that carries what the page showed to be in already."""
        return _seen_name(self.need.line.pk)

    @property
    def first_rows(self) -> list[DrawRowForm]:
        """The rows that are shown at once: all but the spare one, unless it is the only one or was used."""
        return self.rows if self.spare is None else self.rows[:-1]

    @property
    def spare(self) -> DrawRowForm | None:
        """The row for one lot more, folded away until it is wanted."""
        last = self.rows[-1]
        used = last.is_bound and (
            last.errors or any(last.data.get(last.add_prefix(name)) for name in ("code", "amount"))
        )
        return None if used or len(self.rows) == 1 else last

    @property
    def spare_rows(self) -> list[DrawRowForm]:
        """The spare row as a list, for the template that draws rows."""
        return [self.spare] if self.spare else []

    @property
    def filled(self) -> list[DrawRowForm]:
        """Rows in which an amount was given."""
        return [row for row in self.rows if row.is_filled]


def _seen_name(line_id: int) -> str:
    return f"line{line_id}-seen"


def _seen(request: StudioRequest, line_id: int) -> int | None:
    return whole_number(request.POST.get(_seen_name(line_id), ""))


def _prefix(line_id: int, row: int) -> str:
    return f"line{line_id}-{row}"


def _empty_rows(need: Need, pots: int) -> list[DrawRowForm]:
    """A row for each suggested lot, or for each pot where those are more, and one for another lot. No amount is filled
    in, since nobody saw it yet; a counted row carries the planned one, for whoever says that it went in so."""
    item, pots = need.item, pots if need.is_weighed else 1
    codes = [pick.lot.spaced_code for pick in need.picks]
    # Of the last lot for the pots that are left: which lot went into which is for the person to say.
    codes += codes[-1:] * (min(pots, ROWS_AT_MOST - 1) - len(codes))
    rows = []
    for number, code in enumerate(codes):
        counted = number < len(need.picks) and not need.is_weighed
        planned = entry_text(need.picks[number].quantity, item.unit) if counted else ""
        initial = {"code": code, "planned": planned}
        rows.append(DrawRowForm(prefix=_prefix(need.line.pk, number), item=item, pots=pots, initial=initial))
    rows.append(DrawRowForm(prefix=_prefix(need.line.pk, len(rows)), item=item, pots=pots))
    return rows[:ROWS_AT_MOST]


def _posted_rows(
    request: StudioRequest, line_id: int, item: Item, pots: int = 1, *, as_planned: bool = False
) -> list[DrawRowForm]:
    """The rows as they were sent, however many there were."""
    prefixes = [_prefix(line_id, number) for number in range(ROWS_AT_MOST)]
    sent = [prefix for prefix in prefixes if f"{prefix}-code" in request.POST]
    return [
        DrawRowForm(request.POST, prefix=prefix, item=item, pots=pots, as_planned=as_planned)
        for prefix in sent
    ]


def _asked_for(request: StudioRequest, needs: Sequence[Need]) -> list[Need]:
    """One line, when the address names it; else every line that is not covered yet."""
    wanted = request.GET.get("line", "")
    if wanted:
        return [need for need in needs if str(need.line.pk) == wanted]
    return [need for need in needs if not need.is_covered] or list(needs)


@allow(see=MAKERS, do=MAKERS)
def batch_draw(request: StudioRequest, code: str) -> HttpResponse:
    """Record what went in: every line on one page, or one line of it."""
    batch = batch_of(code)
    if not batch.is_open:
        messages.warning(request, f"Batch {batch.spaced_code} is {batch.get_state_display().lower()}.")
        return redirect(batch)
    plan, pots = plan_of_batch(batch, on=today(), drawn=plans.drawn_by_line(batch)), last_pot(batch)
    if request.method == "POST":
        form = DrawForm(request.POST)
        as_planned = form.is_valid() and form.cleaned_data["counted_as_planned"]
        lines = [
            LineRows(
                need,
                _posted_rows(
                    request, need.line.pk, need.item, pots if need.is_weighed else 1, as_planned=as_planned
                ),
                _seen(request, need.line.pk),
            )
            for need in plan.needs
        ]
        lines = [line for line in lines if line.rows]
        # Every row is read before any is judged, so that all complaints come at once.
        refused = [row for line in lines for row in line.rows if not row.is_valid()]
        if form.is_valid() and not refused and (url := _record(request, batch, form, lines)):
            return redirect(url)
    else:
        lines = [LineRows(need, _empty_rows(need, pots)) for need in _asked_for(request, plan.needs)]
        form = DrawForm()
    context = {
        "batch": batch,
        "form": form,
        "lines": lines,
        "asks_as_planned": any(row["planned"].value() for line in lines for row in line.rows),
        "rows": [row for line in lines for row in line.rows],
        "line": request.GET.get("line", ""),
    }
    return answer(request, "batches/batch_draw.html", context, refused=request.method == "POST")


def _record(request: StudioRequest, batch: Batch, form: WhenForm, lines: Sequence[LineRows]) -> str | None:
    """Record all lines, or none; None when one was refused, with the sentence beside its row."""
    filled = [line for line in lines if line.filled]
    if not filled:
        form.add_error(NON_FIELD_ERRORS, "Enter at least one amount.")
        return None
    signature = sign(request, happened_at=form.cleaned_data["happened_at"])
    at_work = filled[0]

    def act() -> str:
        nonlocal at_work
        lot_ids = {taking.lot_id for line in filled for taking in _takings(line.filled)}
        with runs.drawing_into(batch.pk, lot_ids, signature=signature) as locked:
            drawn = plans.drawn_by_line(locked)
            for at_work in filled:
                _check_meanwhile(locked, at_work, drawn)
                for pot, rows in _by_pot(at_work.filled).items():
                    runs.draw(
                        locked,
                        at_work.need.line.pk,
                        _takings(rows),
                        signature=signature,
                        book_found=_found(rows),
                        despite=_despite(rows),
                        pot=pot,
                    )
        left_out = "; ".join(
            str(line.need.item) for line in lines if line.need.is_untouched and not line.filled
        )
        messages.success(request, f"Recorded. Nothing yet of: {left_out}." if left_out else "Recorded.")
        return batch.get_absolute_url()

    try:
        return once(request, act)
    except Meanwhile as error:
        at_work.asked = True
        at_work.filled[0].add_error("amount", f"{error} If it did, record it again.")
        return None
    except (books.BookError, plans.BatchError) as error:
        _explain(error, form, at_work.filled)
        return None


def _check_meanwhile(batch: Batch, line: LineRows, drawn: Mapping[int, int]) -> None:
    need = line.need
    if line.seen is not None:
        check_meanwhile(
            batch,
            need.line,
            seen=line.seen,
            there=drawn.get(need.line.pk, 0),
            more=sum(row.cleaned_data["understood"] for row in line.filled),
            wanted=need.target.total,
            allowed=need.tolerance,
        )


def _by_pot(rows: Sequence[DrawRowForm]) -> dict[int | None, list[DrawRowForm]]:
    """The rows of each pot: what went into one is an entry of its own."""
    found: dict[int | None, list[DrawRowForm]] = {}
    for row in rows:
        found.setdefault(row.pot, []).append(row)
    return found


def _takings(rows: Sequence[DrawRowForm]) -> list[Taking]:
    return [Taking(row.lot.pk, row.cleaned_data["understood"]) for row in rows if row.lot]


def _found(rows: Sequence[DrawRowForm]) -> bool:
    return any(row.cleaned_data.get("found") for row in rows)


def _despite(rows: Sequence[DrawRowForm]) -> str:
    """Why lots went in that are stopped, as the rows say; "" where none does."""
    return "; ".join(filter(None, (row.cleaned_data.get("despite", "").strip() for row in rows)))[:300]


def _explain(error: Exception, form: Form, rows: Sequence[DrawRowForm]) -> None:
    """Put the books' sentence beside the row it is about; where the scale knows better, offer to book the rest."""
    lot_id = getattr(error, "lot_id", None)
    row = next((row for row in rows if row.lot and row.lot.pk == lot_id), None)
    if row is None or isinstance(error, books.WrongTime):
        field = (
            "happened_at"
            if isinstance(error, books.WrongTime) and "happened_at" in form.fields
            else NON_FIELD_ERRORS
        )
        form.add_error(field, str(error))
    elif isinstance(error, books.LotShort):
        row.short = True
        missing = row.item.quantity(error.short)
        row.add_error(
            "amount",
            f"{error} If the scale is right, tick below to book {missing} as found; it is marked to be looked at.",
        )
    elif isinstance(error, books.LotStopped):
        row.stopped = True
        row.add_error("code", f"{error} If it went in already, say why below and record it again.")
    else:
        row.add_error("code", str(error))


@allow(see=MAKERS, do=MAKERS)
def draw_correct(request: StudioRequest, code: str, pk: int) -> HttpResponse:
    """Put a wrong draw right: it is reversed, and what was really drawn is posted in its place."""
    batch = batch_of(code)
    postings = Posting.objects.filter(movements__draw__batch=batch).distinct()
    posting = get_object_or_404(postings.select_related("by", "reversal"), pk=pk)
    draws = list(
        Draw.objects.filter(movement__posting=posting)
        .with_lots()
        .select_related("movement__posting__bench_entry")
    )
    if hasattr(posting, "reversal"):
        messages.warning(request, "This draw was put right before.")
        return redirect(batch)
    item, line_id = draws[0].line.item, draws[0].line_id
    pots = last_pot(batch) if draws[0].line.in_melt else 1
    if request.method == "POST":
        rows = _posted_rows(request, line_id, item)
        form = CorrectForm(request.POST, pots=pots)
        refused = [row for row in rows if not row.is_valid()]
        if form.is_valid() and not refused and _is_same(draws, rows, form):
            form.add_error(
                NON_FIELD_ERRORS, "This is what stands. Change the lot, the amount or the pot, or go back."
            )
        elif form.is_valid() and not refused and (url := _correct(request, batch, posting, form, rows)):
            return redirect(url)
    else:
        rows = _rows_as_drawn(draws, item, line_id)
        form = CorrectForm(pots=pots, initial={"pot": str(draws[0].in_pot or NOT_KNOWN)})
    context = {"batch": batch, "posting": posting, "draws": draws, "item": item, "form": form, "rows": rows}
    context["closed"] = closing.put_right_when(posting.happened_at)
    return answer(request, "batches/draw_correct.html", context, refused=request.method == "POST")


def _is_same(draws: Sequence[Draw], rows: Sequence[DrawRowForm], form: CorrectForm) -> bool:
    """Whether what is to be put right is what stands, so that nothing would change but the record's length."""
    stands = Counter({draw.movement.lot_id: draw.quantity for draw in draws})
    wanted: Counter[int] = Counter()
    for taking in _takings([row for row in rows if row.is_filled]):
        wanted[taking.lot_id] += taking.quantity
    pot = form.cleaned_data["pot"] if "pot" in form.fields else draws[0].in_pot
    return wanted == stands and pot == draws[0].in_pot


def _rows_as_drawn(draws: Sequence[Draw], item: Item, line_id: int) -> list[DrawRowForm]:
    typed = [
        {"code": draw.movement.lot.spaced_code, "amount": entry_text(draw.quantity, item.unit)}
        for draw in draws
    ]
    return [
        DrawRowForm(prefix=_prefix(line_id, number), item=item, initial=initial)
        for number, initial in enumerate([*typed, {}][:ROWS_AT_MOST])
    ]


def _correct(
    request: StudioRequest, batch: Batch, posting: Posting, form: CorrectForm, rows: Sequence[DrawRowForm]
) -> str | None:
    """Correct the draw; None when it was refused, with the sentence on the form."""
    filled = [row for row in rows if row.is_filled]
    signature = sign(request, reason=form.cleaned_data["reason"])

    def act() -> str:
        runs.correct_draw(
            posting,
            _takings(filled),
            signature=signature,
            book_found=_found(filled),
            despite=_despite(filled),
            pot=form.cleaned_data.get("pot") if "pot" in form.fields else runs.SAME_POT,
        )
        messages.success(request, "Put right. The first entry stays on record beside its reversal.")
        return batch.get_absolute_url()

    try:
        return once(request, act)
    except (books.BookError, plans.BatchError) as error:
        _explain(error, form, filled)
        return None
