"""Counts: what is due, a count from its sheet to the books, and what earlier ones found."""

from collections.abc import Iterable
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect

from inventory.counting import counting
from inventory.counting.count_sheet import sheet_pdf
from inventory.counting.count_sheet_text import sheet_of
from inventory.counting.figures import (
    CountStatus,
    Finding,
    Tally,
    classes,
    due,
    findings,
    standings,
    tallies,
    tally,
)
from inventory.counting.forms import ClassForm, CodeForm, StartForm, parts_of_shelf
from inventory.models import Count, CountClass, Item
from studio.core.percent import WHOLE
from studio.core.quantities import to_unit
from studio.people.access import EVERYONE, MAKERS, OWNER, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, sign, today
from studio.web.submissions import once

LINES_ON_A_PAGE = 100


def count_of(pk: int) -> Count:
    """The count of a key, with who began and ended it and what became of its posting."""
    known = Count.objects.select_related("started_by", "ended_by", "posting__reversal__by")
    return get_object_or_404(known, pk=pk)


def state_of(count: Count, found: Tally) -> tuple[str, str]:
    """Tone and word for where a count stands."""
    if count.is_open:
        return "attention", "Being counted"
    if count.state == Count.State.CALLED_OFF:
        return "plain", "Called off"
    if count.posting is None:
        return "good", "All agreed"
    return ("attention", "Reversed") if hasattr(count.posting, "reversal") else ("good", "In the books")


def ended(request: StudioRequest, count: Count) -> HttpResponse:
    """To the count's page, saying that nothing more can be done on it."""
    how = "in the books" if count.state == Count.State.POSTED else "called off"
    messages.warning(request, f"This count is {how} already, by {count.ended_by}.")
    return redirect(count)


@allow(see=EVERYONE)
def count_list(request: StudioRequest) -> HttpResponse:
    """What is due for counting, and every count, the latest first."""
    counts = Count.objects.select_related("started_by", "posting__reversal")
    if tables.wanted(request):
        return _export_list(request, list(counts))
    page = page_of(request, counts, 30)
    groups = [(rule, list(rows)) for rule, rows in groupby(due(today()), key=lambda each: each.rule)]
    context = {
        "page": page,
        "rows": [(count, found, state_of(count, found)) for count, found in tallies(list(page))],
        "due": [(rule, rows, _oldest(rows)) for rule, rows in groups],
    }
    return answer(request, "inventory/count_list.html", context)


def _oldest(rows: Iterable[CountStatus]) -> Any:
    """The day the first of them was last counted; None when one never was."""
    days = [each.last for each in rows]
    return None if None in days else min(day for day in days if day)


def _export_list(request: StudioRequest, counts: list[Count]) -> HttpResponse:
    costs = request.user.sees_costs
    head = [
        "Count",
        "What",
        "State",
        "Blind",
        "Started",
        "By",
        "Ended",
        "Lots",
        "Counted",
        "Within tolerance",
    ]

    def row(count: Count, found: Tally) -> list[object]:
        cells: list[object] = [
            count.pk,
            count.what,
            state_of(count, found)[1],
            "yes" if count.blind else "no",
            count.started_at,
            str(count.started_by),
            count.ended_at,
            found.lots,
            found.counted,
            found.within,
        ]
        return [*cells, tables.micros_cell(_shown_value(count, found))] if costs else cells

    rows = (row(count, found) for count, found in tallies(counts))
    return tables.export(request, "counts", [*head, "Value"] if costs else head, rows)


def _shown_value(count: Count, found: Tally) -> int | None:
    """What the differences are worth; nothing to say where the count was called off."""
    return None if count.state == Count.State.CALLED_OFF else found.value


@allow(see=MAKERS, do=MAKERS)
def count_start(request: StudioRequest) -> HttpResponse:
    """Choose what to count and begin."""
    asked = {"part": request.GET.get("part", "")}
    parts = parts_of_shelf(CountClass.objects.all())
    form = StartForm(request.POST or None, parts=parts, initial=asked)
    if request.method == "POST" and form.is_valid() and (url := _start(request, form)):
        return redirect(url)
    return answer(request, "inventory/count_start.html", {"form": form}, refused=request.method == "POST")


def _start(request: StudioRequest, form: StartForm) -> str | None:
    """Begin the count; None when it was refused, with the sentence on the form."""
    scope, of = form.chosen()

    def act() -> str:
        item_ids, words = None, of
        if scope == Count.Scope.ITEM:
            item = Item.objects.get(pk=int(of))
            item_ids, words = [item.pk], item.name
        elif scope == Count.Scope.CLASS:
            rows = [each for each in standings(classes(today())) if each.rule.letter == of]
            if form.cleaned_data["due"]:
                rows = [each for each in rows if each.is_due(today())]
                words = f"{of}, what was due"
            item_ids = [each.item.pk for each in rows]
        count = counting.start(
            scope=scope,
            of=words,
            item_ids=item_ids,
            blind=form.cleaned_data["blind"],
            signature=sign(request),
        )
        return count.get_absolute_url()

    try:
        return once(request, act)
    except counting.CannotCount as error:
        form.add_error("part", str(error))
    return None


@allow(see=EVERYONE)
def count_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One count: how far it is, and every lot with what was found."""
    count = count_of(pk)
    found = findings(count)
    if tables.wanted(request):
        return _export(request, count, found)
    return _detail(request, count, found, CodeForm())


def _detail(request: StudioRequest, count: Count, found: list[Finding], code: CodeForm) -> HttpResponse:
    figures = tally(found)
    context = {
        "count": count,
        "tally": figures,
        "tone_word": state_of(count, figures),
        "page": page_of(request, found, LINES_ON_A_PAGE),
        "again": [each for each in found if each.must_look_again] if count.is_open else [],
        "hides": count.blind and count.is_open,
        "code_form": code,
    }
    return answer(request, "inventory/count_detail.html", context, refused=code.is_bound)


def _export(request: StudioRequest, count: Count, found: Iterable[Finding]) -> HttpResponse:
    costs = request.user.sees_costs
    head = [
        "Lot",
        "Item",
        "Place",
        "Container",
        "Unit",
        "By the books",
        "Counted",
        "First look",
        "Difference",
        "Percent",
        "State",
        "Reason",
        "Note",
        "Counted by",
        "When",
    ]

    def exact(amount: int | None, unit: str) -> object:
        return None if amount is None else tables.exact_cell(to_unit(amount, unit))

    def row(each: Finding) -> list[object]:
        line, item = each.line, each.line.lot.item
        off = each.off_ppm
        cells: list[object] = [
            line.lot.code,
            item.name,
            line.lot.place,
            line.lot.container,
            item.unit,
            *(exact(amount, item.unit) for amount in (each.book, line.counted, line.first_counted)),
            exact(each.difference, item.unit),
            None if off is None else tables.exact_cell(off * 100 / WHOLE),
            each.state[1] if each.is_counted else "Not counted",
            str(line.reason or ""),
            line.note,
            str(line.by or ""),
            line.counted_at,
        ]
        return [*cells, tables.micros_cell(each.value)] if costs else cells

    return tables.export(request, f"count-{count.pk}", [*head, "Value"] if costs else head, map(row, found))


@allow(do=MAKERS)
def count_add_lot(request: StudioRequest, pk: int) -> HttpResponse:
    """To the lot a code names, put on the sheet first where it is not on it."""
    count = count_of(pk)
    if not count.is_open:
        return ended(request, count)
    form = CodeForm(request.POST)
    if form.is_valid():
        lot = form.cleaned_data["code"]

        def act() -> str:
            return counting.add_lot(count.pk, lot.pk, signature=sign(request)).get_absolute_url()

        try:
            return redirect(once(request, act))
        except counting.CountEnded:
            return ended(request, count_of(pk))
        except counting.CannotCount as error:
            form.add_error("code", str(error))
    return _detail(request, count, findings(count), form)


@allow(see=MAKERS, do=MAKERS)
def count_call_off(request: StudioRequest, pk: int) -> HttpResponse:
    """Give a count up; says first what will happen."""
    count = count_of(pk)
    if not count.is_open:
        return ended(request, count)
    if request.method == "POST":
        try:
            url = once(
                request, lambda: counting.call_off(count.pk, signature=sign(request)).get_absolute_url()
            )
        except counting.CountEnded:
            return ended(request, count_of(pk))
        messages.success(request, "Called off. Nothing was posted.")
        return redirect(url)
    context = {"count": count, "tally": tally(findings(count))}
    return answer(request, "inventory/count_call_off.html", context)


@allow(see=EVERYONE)
def count_sheet(request: StudioRequest, pk: int) -> HttpResponse:
    """The sheet to write on at the shelf."""
    count = count_of(pk)
    sheet = sheet_of(count, findings(count), request.studio, printed=printed_by(request))
    return shown_pdf(sheet_pdf(sheet), f"count-{count.pk}")


@allow(see=EVERYONE)
def count_class_list(request: StudioRequest) -> HttpResponse:
    """The classes, and which item on the shelf is in which, with the day it is due."""
    known = classes(today())
    rows = standings(known)
    if tables.wanted(request):
        return _export_classes(request, rows)
    held = {letter: [each for each in rows if each.rule.letter == letter] for letter in known.rules}
    total = sum(value for value in known.values.values() if value > 0)
    context = {
        "rules": [(rule, len(held[letter])) for letter, rule in known.rules.items()],
        "page": page_of(request, sorted(rows, key=lambda each: (each.rule.letter, -each.year_value)), 100),
        "total": total,
        "day": today(),
    }
    return answer(request, "inventory/count_class_list.html", context)


def _export_classes(request: StudioRequest, rows: Iterable[CountStatus]) -> HttpResponse:
    costs = request.user.sees_costs
    head = ["Item", "Class", "Lots", "Last counted", "Due"]

    def row(each: CountStatus) -> list[object]:
        cells: list[object] = [each.item.name, each.rule.letter, each.lots, each.last, each.due_on or "now"]
        return [*cells, tables.micros_cell(each.year_value)] if costs else cells

    return tables.export(
        request, "count-classes", [*head, "Value used in a year"] if costs else head, map(row, rows)
    )


@allow(see=OWNER, do=OWNER)
def count_class_change(request: StudioRequest, pk: int) -> HttpResponse:
    """How far a class reaches, how often it is counted and how far a count may be off."""
    rule = get_object_or_404(CountClass, pk=pk)
    form = ClassForm(request.POST or None, instance=rule)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, f"Class {rule.letter} is saved.")
        return redirect("inventory:count-class-list")
    context = {"form": form, "rule": CountClass.objects.get(pk=pk)}
    return answer(request, "inventory/count_class_form.html", context, refused=form.is_bound)
