"""Working out the fill weight of a vessel, beside the form of a version, which keeps what was typed into it meanwhile."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse

from batches.formulas.fill_weight import Filled, fill_of_volume, melt_density, volume_of_water, water_density
from batches.formulas.forms import Ingredients
from batches.formulas.forms_fill_weight import FILLED, WATER, FillWeightForm
from batches.formulas.sheet import batch_sheet
from batches.formulas.views import LINES_PREFIX, USE_FILL, materials_for
from batches.models import Formula, FormulaLine
from batches.recipe import Basis, Recipe, RecipeError, RecipeLine
from inventory.models import Item, Kind
from studio.core.numerals import NBSP, decimal_text
from studio.core.percent import WHOLE, format_percent
from studio.core.quantities import to_unit
from studio.core.temperatures import format_temperature
from studio.people.access import MAKERS, allow
from studio.web.filters import whole_number
from studio.web.line_forms import ADD_LINE
from studio.web.requests import StudioRequest, answer

PREFIX = "work"
WORK_OUT = "work-out"
# Decimals of a fill weight in the studio's unit: about a hundredth of a gram.
PLACES = {"g": 2, "kg": 5, "oz": 3, "lb": 4}


@dataclass(frozen=True)
class MeltLine:
    """A line of the melt: its share of it, a plain ratio, and its item, whose density may not be known."""

    item: Item
    share: Fraction


@allow(see=MAKERS, do=MAKERS)
def fill_weight(request: StudioRequest, pk: int) -> HttpResponse:
    """Work out a fill weight. `?change=3`: for version 3, which is being changed; else for the next one."""
    formula = get_object_or_404(Formula.objects.select_related("item"), pk=pk)
    number = _number(request, formula)
    parts = _parts(request, formula, number)
    unknown = [part.item for part in parts if not part.item.density_ug_per_ml]
    needs_density = bool(unknown) or not parts
    asked = WORK_OUT in request.POST
    studio = request.studio
    form = FillWeightForm(
        request.POST if asked else None, prefix=PREFIX, studio=studio, needs_density=needs_density
    )
    context: dict[str, object] = {
        "form": form,
        "formula": formula,
        "parts": parts,
        "unknown": unknown,
        "carried": _carried(request),
        "change": number,
        "back": _back(formula, number),
    }
    if asked and form.is_valid():
        fill, steps = _worked_out(form, parts, request)
        number_text = _typed(fill, studio.mass_unit)
        context |= {"fill": fill, "steps": steps, "typed": number_text}
    return answer(request, "batches/fill_weight.html", context, refused=form.is_bound and not form.is_valid())


def _number(request: StudioRequest, formula: Formula) -> int | None:
    number = whole_number(request.GET.get("change", ""), 8)
    if number is None or not formula.versions.filter(number=number).exists():
        return None
    return number


def _back(formula: Formula, number: int | None) -> str:
    if number is None:
        return reverse("batches:version-add", args=[formula.pk])
    return reverse("batches:version-change", args=[formula.pk, number])


def _carried(request: StudioRequest) -> list[tuple[str, str]]:
    """What was typed into the version's form, to be handed back to it."""
    ours = {"csrfmiddlewaretoken", ADD_LINE, USE_FILL}
    names = [name for name in request.POST if name not in ours and not name.startswith(f"{PREFIX}-")]
    return [(name, value) for name in names for value in request.POST.getlist(name)]


def _parts(request: StudioRequest, formula: Formula, number: int | None) -> list[MeltLine]:
    """The melt's lines as typed, or else of the version that is changed or the latest; none where they cannot be read."""
    if f"{LINES_PREFIX}-TOTAL_FORMS" in request.POST:
        lines = Ingredients(request.POST, prefix=LINES_PREFIX, form_kwargs={"items": materials_for(formula)})
        if not lines.is_valid():
            return []
        given = [line.ingredient() for line in lines.forms if line.cleaned_data.get("item")]
        return _shares([(each.item, Basis(each.basis), each.amount) for each in given])
    versions = formula.versions.order_by("-number")
    version = versions.filter(number=number).first() if number else versions.first()
    rows: Sequence[FormulaLine] = list(version.lines.select_related("item")) if version else []
    return _shares([(line.item, Basis(line.basis), line.amount) for line in rows])


def _shares(lines: Sequence[tuple[Item, Basis, int]]) -> list[MeltLine]:
    """What each weighed line is of the melt; nothing where the lines do not make a formula yet."""
    recipe = Recipe(
        lines=tuple(
            RecipeLine(place, item.pk, item.name, basis, amount, is_fragrance=item.kind == Kind.FRAGRANCE)
            for place, (item, basis, amount) in enumerate(lines)
        ),
        fill_ug=WHOLE,
        loss_ppm=0,
        pot_ug=None,
        division_ug=1,
    )
    try:
        sheet = batch_sheet(recipe, 1)
    except RecipeError:
        return []
    return [
        MeltLine(lines[target.line.key][0], target.exact / sheet.melt)
        for target in sheet.targets
        if target.line.is_weighed
    ]


def _worked_out(
    form: FillWeightForm, parts: Sequence[MeltLine], request: StudioRequest
) -> tuple[Fraction, list[tuple[str, str]]]:
    """The fill weight in µg, and the steps to it: what was done and the figure that came of it."""
    data, unit = form.cleaned_data, request.studio.mass_unit
    share, steps = data["share"], []
    if data["method"] == FILLED:
        filled = Filled(data["full"], data["empty"])
        steps.append(("Full less empty", _mass(filled.fill(), unit)))
        fill = filled.fill(share)
    else:
        if data["method"] == WATER:
            water = water_density(data["water_at"])
            at = format_temperature(data["water_at"], request.studio.scale)
            steps.append((f"Water at {at}", _density(water, 5)))
            volume = volume_of_water(data["water"], water)
            steps.append((f"{_mass(Fraction(data['water']), unit)} of it fills", _volume(volume)))
        else:
            volume = form.volume_ml()
            steps.append(("Volume", _volume(volume)))
        if data["density"]:
            density = Fraction(data["density"])
            steps.append(("Melt, as typed", _density(density, 4)))
        else:
            density = melt_density([(part.share, part.item.density_ug_per_ml or 0) for part in parts])
            steps.append(("Melt, from the lines", _density(density, 4)))
        steps.append(("Filled whole it takes", _mass(fill_of_volume(volume, density), unit)))
        fill = fill_of_volume(volume, density, share)
    steps.append((f"Filled to {format_percent(share)}", _mass(fill, unit)))
    return fill, steps


def _density(density: Fraction, places: int) -> str:
    return f"{decimal_text(round(density * 10**places / 10**6), places, fixed=True)}{NBSP}g/mL"


def _volume(volume_ml: Fraction) -> str:
    return f"{decimal_text(round(volume_ml * 100), 2)}{NBSP}mL"


def _mass(amount: Fraction, unit: str) -> str:
    places = PLACES[unit]
    return f"{decimal_text(round(to_unit(round(amount), unit) * 10**places), places)}{NBSP}{unit}"


def _typed(amount: Fraction, unit: str) -> str:
    """The fill weight as it would be typed into the version's form."""
    places = PLACES[unit]
    return decimal_text(round(to_unit(round(amount), unit) * 10**places), places, commas=False)
