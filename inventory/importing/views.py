"""Bringing tables in: choose a file, look at what is in it, bring it in, and look up what was."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from inventory.importing import import_service
from inventory.importing.columns import EXAMPLE, Shape, template
from inventory.importing.forms import ReadingForm, TableFileForm, harmless_name
from inventory.importing.import_service import NotAsShown, choices_of
from inventory.importing.planning import Plan
from inventory.importing.shapes import SHAPES
from inventory.importing.tables import LOTS, PROBLEMS, RUNS, WAITING
from inventory.ledger.books import BookError
from inventory.models import Import, WaitingTable
from studio.people.access import BOOKS, OWNER, allow
from studio.web import tables
from studio.web.reading_tables import UnreadableTable
from studio.web.requests import StudioRequest, answer, page_of, sign
from studio.web.submissions import once

PROBLEMS_SHOWN = 200
SAMPLE = 20
CHOOSE = "choose"


def _shape_of(table: str) -> Shape:
    if table not in Import.Table.values:
        raise Http404
    return SHAPES[Import.Table(table)]


@allow(see=BOOKS)
def import_list(request: StudioRequest) -> HttpResponse:
    """Which tables can be brought in, which wait, and which were."""
    runs = Import.objects.select_related("by")
    waiting = WaitingTable.objects.select_related("by").defer("content")
    page = page_of(request, runs)
    context = {
        "shapes": SHAPES.values(),
        "waiting": WAITING.shown(request, list(waiting)),
        "page": page,
        "table": RUNS.shown(request, list(page)),
    }
    return answer(request, "inventory/import_list.html", context)


@allow(see=BOOKS, do=OWNER)
def import_add(request: StudioRequest, table: str) -> HttpResponse:
    """What each column of a table means, and the file to be read."""
    shape = _shape_of(table)
    form = TableFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid() and (url := _keep(request, shape, form)):
        return redirect(url)
    refused = request.method == "POST"
    if refused and not form.is_bound:
        form = TableFileForm(request.POST, request.FILES)
    context = {"shape": shape, "form": form, "example": EXAMPLE}
    return answer(request, "inventory/import_add.html", context, refused=refused)


def _keep(request: StudioRequest, shape: Shape, form: TableFileForm) -> str | None:
    """Read the file and keep it; None when it is no table, with the sentence on the form."""
    file = form.cleaned_data["file"]

    def act() -> str:
        waiting = import_service.keep(
            shape.table, harmless_name(file.name), file.read(), by=request.user, now=timezone.now()
        )
        return waiting.get_absolute_url()

    try:
        return once(request, act)
    except UnreadableTable as error:
        form.add_error("file", str(error))
        return None


@allow(see=BOOKS)
def import_template(request: StudioRequest, table: str) -> HttpResponse:
    """A table with its headings and two example rows, to be filled."""
    shape = _shape_of(table)
    head, *rows = template(shape)
    return tables.export(request, str(shape.table.label).lower().replace(" ", "-"), head, rows)


@allow(see=OWNER, do=OWNER)
def import_preview(request: StudioRequest, pk: int) -> HttpResponse:
    """What bringing a file in would do, and everything that is wrong in it; from here it is brought in."""
    waiting = get_object_or_404(WaitingTable, pk=pk)
    if request.method == "POST" and CHOOSE not in request.POST:
        return _bring_in(request, waiting)
    now = timezone.now()
    plan = import_service.look(waiting, request.studio, now)
    if request.method == "POST":
        form = ReadingForm(request.POST, plan=plan)
        if form.is_valid():
            import_service.choose(waiting, {**vars(choices_of(waiting)), **form.cleaned_data})
            return redirect(waiting)
        return _preview(request, waiting, plan, form)
    if tables.wanted(request):
        return PROBLEMS.file(request, [*plan.problems, *plan.differs, *plan.notices])
    return _preview(request, waiting, plan)


def _bring_in(request: StudioRequest, waiting: WaitingTable) -> HttpResponse:
    """Bring the file in; where the books changed since it was shown, show it again."""
    shown = request.POST.get("shown", "")

    def act() -> str:
        run = import_service.bring_in(
            waiting, shown=shown, signature=sign(request, reason=f"From {waiting.name}")
        )
        messages.success(request, f"{run.get_table_display()}: {run.added:,} brought in.")
        return run.get_absolute_url()

    try:
        return redirect(once(request, act))
    except NotAsShown as error:
        messages.warning(request, f"Nothing was brought in. {error}")
        return _preview(request, waiting, error.plan, refused=True)
    except BookError as error:
        messages.error(request, f"Nothing was brought in. {error}")
        plan = import_service.look(waiting, request.studio, timezone.now())
        return _preview(request, waiting, plan, refused=True)


def _preview(
    request: StudioRequest,
    waiting: WaitingTable,
    plan: Plan,
    form: ReadingForm | None = None,
    *,
    refused: bool = False,
) -> HttpResponse:
    context: dict[str, Any] = {
        "waiting": waiting,
        "plan": plan,
        "form": form or ReadingForm(plan=plan),
        "problems": plan.problems[:PROBLEMS_SHOWN],
        "more": max(len(plan.problems) - PROBLEMS_SHOWN, 0),
        "differs": plan.differs[:PROBLEMS_SHOWN],
        "notices": plan.notices[:PROBLEMS_SHOWN],
        "sample": plan.sample(SAMPLE),
        "understood": list(plan.understood()),
    }
    return answer(request, "inventory/import_preview.html", context, refused=refused or bool(form))


@allow(see=BOOKS)
def import_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """What came of a table: its lots, or what happened to them, with the postings."""
    run = get_object_or_404(Import.objects.select_related("by"), pk=pk)
    rows = run.imported_rows.select_related("lot__item", "posting__reversal").order_by(
        "lot_id", "posting_id", "key"
    )
    if tables.wanted(request):
        return LOTS.file(request, rows.iterator(chunk_size=2000))
    page = page_of(request, rows)
    context = {
        "run": run,
        "page": page,
        "table": LOTS.shown(request, list(page)),
        "lots": run.table == Import.Table.LOTS,
    }
    return answer(request, "inventory/import_detail.html", context)
