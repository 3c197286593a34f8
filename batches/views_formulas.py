"""Formulas: written, read, and written again as a new version."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.db.models import Count, Max, Prefetch
from django.db.models.functions import Lower
from django.forms import BaseFormSet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from batches import formulas
from batches.cautions import particular
from batches.forms import INGREDIENTS_AT_MOST, FormulaForm, IngredientForm, Ingredients, VersionForm
from batches.models import Formula, FormulaVersion
from batches.recipe import RecipeError
from batches.sheet import batch_sheet
from batches.ticket_of import load_words, steps
from inventory.models import Item, Kind
from studio import tables
from studio.access import EVERYONE, MAKERS, allow
from studio.line_forms import ADD_LINE, hush, with_another_line
from studio.requests import StudioRequest, answer, page_of, sign
from studio.submissions import once

PREFIX = "lines"
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
        return _export(request)
    return answer(request, "batches/formula_list.html", {"page": page_of(request, rows)})


def _export(request: StudioRequest) -> HttpResponse:
    head = ["Formula", "Makes", "Version", "State", "Written", "What changed", "Item", "Amount"]
    versions = FormulaVersion.objects.select_related("formula__item").prefetch_related("lines__item")
    rows = (
        [
            version.formula.name,
            version.formula.item.name,
            version.number,
            version.get_state_display(),
            version.written_at,
            version.what_changed,
            line.item.name,
            line.amount_words,
        ]
        for version in versions.order_by("formula__name", "number")
        for line in version.lines.all()
    )
    return tables.export(request, "formulas", head, rows)


@allow(see=EVERYONE)
def formula_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One formula: its versions, the latest first."""
    formula = get_object_or_404(Formula.objects.select_related("item"), pk=pk)
    versions = (
        formula.versions.select_related("written_by")
        .annotate(batch_count=Count("batches"))
        .order_by("-number")
    )
    return answer(request, "batches/formula_detail.html", {"formula": formula, "versions": versions})


def _version(pk: int, number: int) -> FormulaVersion:
    versions = FormulaVersion.objects.select_related("formula__item", "written_by").prefetch_related(
        "lines__item"
    )
    # By the formula's own key: a number beyond what the database holds is then simply not found.
    return get_object_or_404(versions, formula__pk=pk, number=number)


# What the page of a version shows a sheet for, so that shares read as weights too.
SHOWN_UNITS, SHOWN_MASS = 12, 1_000_000_000


@allow(see=EVERYONE)
def version_detail(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """One version: lines, process, load both ways, cautions, and a small batch sheet."""
    version = _version(pk, number)
    studio = request.studio
    quantity = SHOWN_UNITS if version.fill_ug else SHOWN_MASS
    sheet = batch_sheet(version.recipe(), quantity)
    lines = {line.pk: line for line in version.lines.all()}
    context = {
        "version": version,
        "lines": [(lines[target.line.key], target) for target in sheet.targets],
        "sheet": sheet,
        "quantity": quantity,
        "load": load_words(sheet),
        "steps": steps(version, studio.scale),
        "cautions": particular(version, sheet, unit=studio.scale),
        "used": version.batches.count(),
        "states": FormulaVersion.State.choices,
    }
    return answer(request, "batches/version_detail.html", context)


@allow(do=MAKERS)
def version_state(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Say how far a version has got: trial, approved, retired."""
    version = _version(pk, number)
    state = request.POST.get("state", "")
    if state in FormulaVersion.State.values:
        FormulaVersion.objects.filter(pk=version.pk).update(state=state)
        messages.success(request, f"{version} is {FormulaVersion.State(state).label.lower()} now.")
    return redirect(version)


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
    version = _version(pk, number)
    if version.batches.exists():
        messages.warning(
            request, "A batch was planned from this version, so it stays as it is. Write a new version."
        )
        return redirect(version)

    def write(process: dict[str, Any], ingredients: list[formulas.Ingredient]) -> FormulaVersion:
        return formulas.rewrite_version(version, process, ingredients)

    return _version_page(request, version.formula, version, write, f"Change {version}")


def _version_page(
    request: StudioRequest,
    formula: Formula,
    start: FormulaVersion | None,
    write: Callable[[dict[str, Any], list[formulas.Ingredient]], FormulaVersion],
    heading: str,
) -> HttpResponse:
    """The form of a version: shown, refused or written."""
    items = list(Item.objects.current().materials().exclude(pk=formula.item_id))
    kwargs = {"items": items}
    studio = request.studio
    instance = start or FormulaVersion()
    refused = False
    if request.method == "POST":
        adding = ADD_LINE in request.POST
        data = with_another_line(request.POST, PREFIX, INGREDIENTS_AT_MOST) if adding else request.POST
        form = VersionForm(data, instance=instance, studio=studio, makes=formula.item)
        lines = Ingredients(data, prefix=PREFIX, form_kwargs=kwargs)
        if adding:
            hush(form, lines)
        elif form.is_valid() and lines.is_valid() and (url := _write(request, form, lines, write)):
            return redirect(url)
        refused = not adding
    else:
        form = VersionForm(instance=instance, studio=studio, makes=formula.item)
        typed = [IngredientForm.typed(line) for line in start.lines.all()] if start else []
        lines = Ingredients(prefix=PREFIX, form_kwargs=kwargs, initial=typed)
        lines.extra = 1 if start else LINES_AT_FIRST
    context = {"form": form, "lines": lines, "formula": formula, "heading": heading}
    return answer(request, "batches/version_form.html", context, refused=refused)


def _write(
    request: StudioRequest, form: VersionForm, lines: BaseFormSet, write: Callable[..., FormulaVersion]
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
