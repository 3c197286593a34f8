"""Formulas: written, read, and written again as a new version."""

from collections.abc import Callable
from typing import Any, NamedTuple

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Count, Max, Prefetch
from django.db.models.functions import Lower
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from batches.burn_tests.verdict import owners_word_of
from batches.fetch import version_of
from batches.formulas import writing as formulas
from batches.formulas.approving import owners_word, words_of
from batches.formulas.cautions import particular
from batches.formulas.forms import INGREDIENTS_AT_MOST, FormulaForm, IngredientForm, Ingredients, VersionForm
from batches.formulas.hazard_labels import CLP_MARKETS, hazard_standing
from batches.formulas.loads import load_words
from batches.formulas.process_steps import steps
from batches.formulas.sheet import batch_sheet
from batches.lineage.composition import on_shelf
from batches.models import BurnTest, Formula, FormulaVersion
from batches.recipe import RecipeError
from inventory.models import Item, Kind
from studio.people.access import EVERYONE, MAKERS, allow
from studio.web import panels, tables
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, page_of, sign
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

LINES_PREFIX = "lines"
# Pressed on the page that works out the fill weight: the form comes back as it was typed, with that weight in it.
USE_FILL = "use_fill"
LINES_AT_FIRST = 4


@allow(see=EVERYONE)
def formula_list(request: StudioRequest) -> HttpResponse:
    """Every formula with its latest version."""
    versions = FormulaVersion.objects.order_by("-number")
    rows = Formula.objects.select_related("item").prefetch_related(
        Prefetch("versions", versions, to_attr="newest")
    )
    rows = rows.annotate(
        batch_count=Count("versions__batches"), last_run=Max("versions__batches__finished_at")
    ).order_by(Lower("name"), "pk")
    if request.GET.get("retired") != "yes":
        rows = rows.filter(retired=False)
    if tables.wanted(request):
        versions = FormulaVersion.objects.select_related("formula__item").prefetch_related("lines__item")
        versions = versions.order_by("formula__name", "number")
        lines = (LineRow(version, line) for version in versions for line in version.lines.all())
        return LINES.file(request, lines)
    page = page_of(request, rows)
    latest = [(formula, formula.newest[0] if formula.newest else None) for formula in page]
    words = words_of(version for _, version in latest if version)
    shown = [
        FormulaRow(formula, version, words.get(version.pk, "") if version else "")
        for formula, version in latest
    ]
    return answer(
        request, "batches/formula_list.html", {"page": page, "table": FORMULAS.shown(request, shown)}
    )


class FormulaRow(NamedTuple):
    """A formula, its latest version, and whose word that version stands on."""

    formula: Any
    latest: FormulaVersion | None
    word: str


FORMULAS = Table(
    "formulas",
    "Formulas",
    [
        Column("Formula", "formula", link="formula.get_absolute_url"),
        Column("Makes", "formula.item"),
        Column("Latest version"),
        Column("Runs", "formula.batch_count", Format.NUMBER),
        Column("Last run", "formula.last_run", Format.DAY),
    ],
)


class LineRow(NamedTuple):
    """A line of a version."""

    version: FormulaVersion
    line: Any


LINES = Table(
    "formulas",
    "Lines of formulas",
    [
        Column("Formula", "version.formula.name"),
        Column("Makes", "version.formula.item.name"),
        Column("Version", "version.number"),
        Column("State", "version.get_state_display"),
        Column("Written", "version.written_at", Format.TIME),
        Column("What changed", "version.what_changed"),
        Column("Item", "line.item.name"),
        Column("Amount", "line.amount_words"),
        Column("Tolerance", "line.tolerance_words"),
    ],
)


@allow(see=EVERYONE)
def formula_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One formula: its versions, the latest first."""
    formula = get_object_or_404(Formula.objects.select_related("item"), pk=pk)
    versions = (
        formula.versions.select_related("written_by")
        .annotate(batch_count=Count("batches"))
        .order_by("-number")
    )
    words = words_of(versions)
    context = {
        "formula": formula,
        "versions": [(version, words.get(version.pk, "")) for version in versions],
        "latest": versions[0] if versions else None,
        "panels": panels.shown("formula", request, formula),
    }
    return answer(request, "batches/formula_detail.html", context)


# What the page of a version shows a sheet for, so that shares read as weights too.
SHOWN_UNITS, SHOWN_MASS = 12, 1_000_000_000


@allow(see=EVERYONE)
def version_detail(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """One version: lines, process, load both ways, cautions, and a small batch sheet."""
    version = version_of(pk, number)
    studio = request.studio
    quantity = SHOWN_UNITS if version.fill_ug else SHOWN_MASS
    sheet = batch_sheet(version.recipe(), quantity)
    lines = {line.pk: line for line in version.lines.all()}
    hazards = hazard_standing(version, sheet)
    said = hazards.cautions(studio.market) if version.fill_ug else []
    inside = on_shelf(lines.values())
    context = {
        "version": version,
        "lines": [(lines[target.line.key], target) for target in sheet.targets],
        "sheet": sheet,
        "quantity": quantity,
        "load": load_words(lines.values(), sheet, inside),
        "steps": steps(version, studio.scale),
        "cautions": [*particular(version, sheet, unit=studio.scale, inside=inside), *said],
        "standing": hazards,
        "under_clp": studio.market in CLP_MARKETS,
        "owners_word": owners_word(version),
        "runs": version.batches.count(),
        "used": formulas.is_used(version),
        "changes": version.state_changes.select_related("by", "burn_test"),
        "burn_tests": _burn_tests(version),
    }
    return answer(request, "batches/version_detail.html", context)


def _burn_tests(version: FormulaVersion) -> list[BurnTest]:
    """The burn tests of a version, each with on whose word it passed, if on anybody's."""
    tests = list(version.burn_tests.select_related("started_by", "decided_by"))
    for test in tests:
        test.owners_word = owners_word_of(test)  # type: ignore[attr-defined]
    return tests


@allow(see=MAKERS, do=MAKERS)
def formula_add(request: StudioRequest) -> HttpResponse:
    """A new formula: its name, what it makes, then its first version."""
    form = FormulaForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        return redirect(once(request, lambda: reverse("batches:version-add", args=[form.save().pk])))
    makeable = Item.objects.filter(kind=Kind.FINISHED) | Item.objects.filter(made_here=True)
    context = {"form": form, "any_product": makeable.exists()}
    return answer(request, "batches/formula_form.html", context, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def version_add(request: StudioRequest, pk: int) -> HttpResponse:
    """The next version of a formula, starting from the latest one."""
    formula = get_object_or_404(Formula.objects.select_related("item"), pk=pk)
    latest = formula.versions.order_by("-number").prefetch_related("lines__item").first()
    if latest:
        latest.what_changed = ""

    def write(process: dict[str, Any], ingredients: list[formulas.Ingredient]) -> FormulaVersion:
        return formulas.write_version(formula, process, ingredients, signature=sign(request))

    number = latest.number + 1 if latest else 1
    return _version_page(request, formula, latest, write, f"{formula}, version {number}")


@allow(see=MAKERS, do=MAKERS)
def version_change(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Change a version nobody planned from yet."""
    version = version_of(pk, number)
    if formulas.is_used(version):
        messages.warning(request, formulas.USED)
        return redirect(version)

    def write(process: dict[str, Any], ingredients: list[formulas.Ingredient]) -> FormulaVersion:
        return formulas.rewrite_version(version, process, ingredients)

    return _version_page(request, version.formula, version, write, f"Change {version}", changing=True)


def materials_for(formula: Formula) -> list[Item]:
    """What may go into a formula."""
    return list(Item.objects.current().materials().exclude(pk=formula.item_id))


def _version_page(
    request: StudioRequest,
    formula: Formula,
    start: FormulaVersion | None,
    write: Callable[[dict[str, Any], list[formulas.Ingredient]], FormulaVersion],
    heading: str,
    *,
    changing: bool = False,
) -> HttpResponse:
    """The form of a version: shown, refused or written."""
    kwargs = {"items": materials_for(formula)}
    studio = request.studio
    instance = start or FormulaVersion()
    refused = False
    if request.method == "POST":
        adding = ADD_LINE in request.POST or USE_FILL in request.POST
        data: QueryDict = request.POST
        if ADD_LINE in data:
            data = with_another_line(data, LINES_PREFIX, INGREDIENTS_AT_MOST)
        form = VersionForm(data, instance=instance, studio=studio, makes=formula.item)
        lines = Ingredients(data, prefix=LINES_PREFIX, form_kwargs=kwargs)
        if adding:
            hush(form, lines)
        elif form.is_valid() and lines.is_valid() and (url := _write(request, form, lines, write)):
            return redirect(url)
        refused = not adding
    else:
        form = VersionForm(instance=instance, studio=studio, makes=formula.item)
        if fill := request.GET.get("fill", "")[:40]:
            form.initial["fill_ug"] = fill
        typed = [IngredientForm.typed(line) for line in start.lines.all()] if start else []
        lines = Ingredients(prefix=LINES_PREFIX, form_kwargs=kwargs, initial=typed)
        lines.extra = 1 if start else LINES_AT_FIRST
    context = {
        "form": form,
        "lines": lines,
        "formula": formula,
        "heading": heading,
        "change": start.number if changing and start else None,
    }
    return answer(request, "batches/version_form.html", context, refused=refused)


def _write(
    request: StudioRequest, form: VersionForm, lines: FormSet, write: Callable[..., FormulaVersion]
) -> str | None:
    """Write the version; None when it was refused, with the sentence beside its line."""
    # A line that was shown filled in and left as it was has not changed and still counts.
    filled: list[Any] = [line for line in lines.forms if line.has_changed() or line.initial]
    kept = [line for line in filled if line.cleaned_data.get("item")]
    try:
        return once(
            request, lambda: write(form.process(), [line.ingredient() for line in kept]).get_absolute_url()
        )
    except RecipeError as error:
        for place, sentence in error.problems:
            if place is None:
                form.add_error(NON_FIELD_ERRORS, sentence)
            else:
                kept[place].add_error("amount", sentence)
    except formulas.VersionUsed as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    return None
