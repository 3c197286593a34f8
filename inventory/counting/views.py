"""Counts: what is due, a count from its sheet to the books, and what earlier ones found."""

from collections.abc import Iterable
from itertools import groupby
from typing import Any, NamedTuple

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
from studio.people.access import EVERYONE, MAKERS, OWNER, allow
from studio.web import tables
from studio.web.requests import StudioRequest, answer, page_of, printed_by, shown_pdf, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

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


class CountRow(NamedTuple):
    """A count, what it found and where it stands."""

    record: Count
    tally: Tally
    state: tuple[str, str]

    @property
    def value(self) -> int | None:
        """What the differences are worth; nothing to say where the count was called off."""
        return None if self.record.state == Count.State.CALLED_OFF else self.tally.value


COUNTS = Table(
    "counts",
    "Counts",
    [
        Column("Count", "record.pk"),
        Column("What", "record.what", title="Count"),
        Column("State", "state", Format.STATE),
        Column("Blind", "record.blind", Format.YES),
        Column("Started", "record.started_at", Format.TIME),
        Column("By", "record.started_by"),
        Column("Ended", "record.ended_at", Format.TIME),
        Column("Lots", "tally.lots", Format.NUMBER),
        Column("Counted", "tally.counted", Format.NUMBER, title="Lots counted"),
        Column("Within tolerance", "tally.within", Format.NUMBER),
        Column("Value", "value", Format.MONEY, title="Difference", may="sees_costs"),
    ],
    page=("what", "state", "started", "counted", "within_tolerance", "value"),
)
FINDINGS = Table(
    "count",
    "Lots",
    [
        Column("Lot", "line.lot.code"),
        Column("Item", "line.lot.item.name"),
        Column("Place", "line.lot.place"),
        Column("Container", "line.lot.container"),
        Column("Unit", "line.lot.item.unit"),
        Column("By the books", "book", Format.QUANTITY, item="line.lot.item"),
        Column("Counted", "line.counted", Format.QUANTITY, item="line.lot.item"),
        Column("First look", "line.first_counted", Format.QUANTITY, item="line.lot.item"),
        Column("Difference", "difference", Format.QUANTITY, item="line.lot.item"),
        Column("Percent", "off_ppm", Format.PERCENT),
        Column("State", lambda found: found.state[1] if found.is_counted else "Not counted"),
        Column("Reason", "line.reason"),
        Column("Note", "line.note"),
        Column("Counted by", "line.by"),
        Column("When", "line.counted_at", Format.TIME),
        Column("Value", "value", Format.MONEY, may="sees_costs"),
    ],
)
CLASSES = Table(
    "count-classes",
    "Items",
    [
        Column("Item", "item.name", link="item.get_absolute_url"),
        Column("Class", "rule.letter"),
        Column("Lots", "lots", Format.NUMBER),
        Column("Last counted", "last", Format.DAY),
        Column("Due", lambda standing: standing.due_on or "now", css="nowrap"),
        Column("Value used in a year", "year_value", Format.MONEY, "Used in a year", may="sees_costs"),
    ],
    page=("item", "class", "value_used_in_a_year", "lots", "last_counted", "due"),
)


def _rows(counts: list[Count]) -> list[CountRow]:
    return [CountRow(count, found, state_of(count, found)) for count, found in tallies(counts)]


@allow(see=EVERYONE)
def count_list(request: StudioRequest) -> HttpResponse:
    """What is due for counting, and every count, the latest first."""
    counts = Count.objects.select_related("started_by", "posting__reversal")
    if tables.wanted(request):
        return COUNTS.file(request, _rows(list(counts)))
    page = page_of(request, counts, 30)
    groups = [(rule, list(rows)) for rule, rows in groupby(due(today()), key=lambda each: each.rule)]
    context = {
        "page": page,
        "table": COUNTS.shown(request, _rows(list(page))),
        "due": [(rule, rows, _oldest(rows)) for rule, rows in groups],
    }
    return answer(request, "inventory/count_list.html", context)


def _oldest(rows: Iterable[CountStatus]) -> Any:
    """The day the first of them was last counted; None when one never was."""
    days = [each.last for each in rows]
    return None if None in days else min(day for day in days if day)


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
        return FINDINGS.file(request, found, name=f"count-{count.pk}")
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
        return CLASSES.file(request, rows)
    held = {letter: [each for each in rows if each.rule.letter == letter] for letter in known.rules}
    total = sum(value for value in known.values.values() if value > 0)
    page = page_of(request, sorted(rows, key=lambda each: (each.rule.letter, -each.year_value)), 100)
    context = {
        "rules": [(rule, len(held[letter])) for letter, rule in known.rules.items()],
        "page": page,
        "table": CLASSES.shown(request, list(page)),
        "total": total,
        "day": today(),
    }
    return answer(request, "inventory/count_class_list.html", context)


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
