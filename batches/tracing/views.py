"""From a code to what went in, where it went, and how much of it is where."""

from fractions import Fraction

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect

from batches.lineage.recall_scope import widths
from batches.models import Batch
from batches.tracing import drawing as trace_drawing
from batches.tracing import finding
from batches.tracing import tree as trace_tree
from batches.tracing.holders import Holder, holders_of
from batches.tracing.shares import Place
from batches.tracing.table import HEAD, rows_of
from batches.tracing.trace import Trace, balance_of_batch, balance_of_lot, trace_of
from batches.tracing.trace_pdf import trace_pdf
from batches.tracing.trace_text import sheet_of
from inventory.lots.succession import endings
from inventory.models import Item, Lot
from studio.core.codes import is_valid, normalise, spaced
from studio.models import User
from studio.people.access import EVERYONE, allow
from studio.web import panels, tables
from studio.web.filters import text_of
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, today

HOLDERS_SHOWN = 50
# A longer list is folded away on the screen.
LIST_SHOWN = 60
ROWS_ON_A_PAGE = 200


@allow(see=EVERYONE)
def trace(request: StudioRequest) -> HttpResponse:
    """Ask for a code, a supplier's lot, an order reference or a paper's number; lead to what it stands for."""
    text = text_of(request, "code", 60)
    context: dict[str, object] = {"text": text}
    if text:
        hits = finding.found(text)
        if len(hits) == 1:
            if hits[0].why.startswith(finding.REPLACED):
                messages.info(request, f"{hits[0].thing.spaced_code} {hits[0].why}.")
            return redirect("batches:trace-code", code=hits[0].thing.code)
        context |= {"hits": hits} if hits else _not_found(text, request.user)
    latest = Batch.objects.with_product().exclude(finished_at=None).order_by("-finished_at", "-pk")
    context["latest"] = latest[:8]
    return answer(request, "batches/trace.html", context)


def _not_found(text: str, user: User) -> dict[str, object]:
    """What is said of a text no lot and no batch carries: papers without lots, or what may have been meant."""
    if papers := finding.papers(text, user):
        return {"papers": papers}
    code = normalise(text)
    return {
        "unknown": spaced(code) if is_valid(code) else text,
        "misses": finding.misses(text),
        "instead": finding.instead(text, user),
    }


def _root(code: str) -> Lot | Batch:
    root = finding.of_code(normalise(code))
    if root is None:
        raise Http404
    return root


@allow(see=EVERYONE)
def trace_code(request: StudioRequest, code: str) -> HttpResponse:
    """Both ways from a lot or a batch, with shares, a drawing, a list and the balance."""
    root = _root(code)
    found = trace_of(root)
    sources = found.sources
    wide = widths([lot.pk for lot, _ in sources])
    came, went = trace_tree.backward(found), trace_tree.forward(found)
    holders = holders_of(found)
    at_most = request.studio.unexplained_at_most_ppm
    context = {
        "trace": found,
        "root": root,
        "ending": endings([root.pk]).get(root.pk) if isinstance(root, Lot) else None,
        "lot": found.lot,
        "batch": found.batch,
        "item": found.item,
        "facts": _facts(found, holders),
        "sources": [(lot, amount, wide[lot.pk]) for lot, amount in sources],
        "holders": [
            (each, each.display_name(request.user), each.reached(request.user))
            for each in holders[:HOLDERS_SHOWN]
        ],
        "more_holders": max(len(holders) - HOLDERS_SHOWN, 0),
        "drawing": trace_drawing.drawing_of(found),
        "long": len(found.went_in) + len(found.went_on) + len(found.left) > LIST_SHOWN,
        "came": came,
        "came_steps": trace_tree.outline(came),
        "went": went,
        "went_steps": trace_tree.outline(went),
        "balance": balance_of_lot(root, at_most_ppm=at_most) if isinstance(root, Lot) else None,
        "of_batch": balance_of_batch(root, at_most_ppm=at_most) if isinstance(root, Batch) else None,
        "at_most_ppm": at_most,
        # What the melt of a batch is told in: of a blend as the blend is, else as the studio likes weights shown.
        "melt": root.item if _by_weight(root) else Item(name="Melt", unit=request.studio.mass_unit),
        "panels": panels.shown("trace", request, found),
        "day": today(),
    }
    return answer(request, "batches/trace_code.html", context)


def _by_weight(root: Lot | Batch) -> bool:
    return isinstance(root, Batch) and root.version.fill_ug is None


def _facts(found: Trace, holders: list[Holder]) -> dict[str, int | Fraction]:
    """What a glance should tell: batches, units made, here, sent, otherwise gone, and how many customers have some."""
    units = sum(found.goods.values())
    here = found.goods.get(Place.SHELF, 0)
    sent = found.goods.get(Place.SENT, 0)
    return {
        "batches": len(found.down.batches - ({found.root.pk} if found.batch else set())),
        "units": units,
        "here": here,
        "sent": sent,
        "gone": units - here - sent,
        "customers": sum(1 for each in holders if each.customer),
    }


@allow(see=EVERYONE)
def trace_rows(request: StudioRequest, code: str) -> HttpResponse:
    """The trace as a table, and as a file."""
    root = _root(code)
    rows = rows_of(trace_of(root), request.user)
    if tables.wanted(request):
        return tables.export(request, f"trace-{root.code}", HEAD, (row.cells for row in rows))
    context = {"root": root, "page": page_of(request, rows, ROWS_ON_A_PAGE), "item": root.item}
    return answer(request, "batches/trace_rows.html", context)


@allow(see=EVERYONE)
def trace_sheet(request: StudioRequest, code: str) -> HttpResponse:
    """The trace on paper."""
    root = _root(code)
    found = trace_of(root)
    at_most = request.studio.unexplained_at_most_ppm
    balance = balance_of_lot(root, at_most_ppm=at_most) if isinstance(root, Lot) else None
    sheet = sheet_of(found, balance, user=request.user, studio=request.studio, printed=printed_by(request))
    return shown_pdf(trace_pdf(sheet), f"trace-{root.code}")
