"""Burn tests: listed, started, read cycle by cycle, and decided; and the limits they are held against."""

from typing import Any

from django.contrib import messages
from django.core.exceptions import NON_FIELD_ERRORS
from django.http import HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse

from batches.burn_tests import burning
from batches.burn_tests.forms import (
    BurnJars,
    BurnPhotoForm,
    CycleForm,
    DecideForm,
    LimitsForm,
    SeenForm,
    StartForm,
)
from batches.burn_tests.record import Record, record_of, with_readings
from batches.burn_tests.tables import READINGS, TESTS, reading_rows
from batches.fetch import version_of
from batches.models import BurnJar, BurnLimits, BurnPhoto, BurnReading, BurnTest, FormulaVersion
from studio.models import Role
from studio.people.access import EVERYONE, MAKERS, OWNER, allow
from studio.web import tables
from studio.web.forms import ReasonForm
from studio.web.line_forms import ADD_LINE, FormSet, hush, with_another_line
from studio.web.requests import StudioRequest, answer, page_of, shown_picture, sign
from studio.web.submissions import once

PREFIX = "jars"
JARS_AT_FIRST = 2

CAUTIONS = (
    "Never leave a burning candle alone, not for a minute. Keep it in sight, on a surface that does not burn, away from "
    "draughts and anything that can catch fire, out of reach of children and pets.",
    "Ventilate the room, and put the flame out at once when it flares, the vessel cracks or soot rises. Keep a lid and a "
    "fire extinguisher or blanket at hand; never water.",
    "Watch closely near the end of a candle's life, and put it out at the depth of wax at which a test ends. A jar that "
    "burned is not sold.",
)


def burn_test_of(pk: int) -> BurnTest:
    """A burn test with all that a record of it is made of."""
    return get_object_or_404(with_readings(BurnTest.objects.all()), pk=pk)


@allow(see=EVERYONE)
def burn_list(request: StudioRequest) -> HttpResponse:
    """Burn tests, the latest first, or those of one state."""
    state = request.GET.get("state", "")
    tests = with_readings(BurnTest.objects.all())
    if state in BurnTest.State.values:
        tests = tests.filter(state=state)
    if tables.wanted(request):
        return READINGS.file(request, (row for test in tests for row in reading_rows(test)))
    page = page_of(request, tests, 25)
    context = {
        "page": page,
        "table": TESTS.shown(request, [record_of(test) for test in page]),
        "states": BurnTest.State.choices,
        "state": state,
    }
    return answer(request, "batches/burn_list.html", context)


@allow(see=EVERYONE)
def burn_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One test: what burned, how fast, how long a candle should last, and every reading beside the limits."""
    test = burn_test_of(pk)
    record = record_of(test, unit=request.studio.scale)
    context = {
        "test": test,
        "record": record,
        "cautions": CAUTIONS,
        "lacked": test.lacked.splitlines(),
        "unseen": _unseen(record),
        "photos": test.photos.all(),
    }
    return answer(request, "batches/burn_detail.html", context)


def _unseen(record: Record) -> tuple[str, ...]:
    """What a pass of before does not show, where nobody was asked to accept it."""
    if record.test.state != BurnTest.State.PASSED or record.test.lacked:
        return ()
    return record.judgement.against


@allow(see=MAKERS, do=MAKERS)
def burn_start(request: StudioRequest, pk: int, number: int) -> HttpResponse:
    """Weigh jars of a version and begin to burn them."""
    version = version_of(pk, number)
    if version.fill_ug is None:
        messages.warning(request, "A blend is not burned by itself. Test the candle that is made of it.")
        return redirect(version)
    studio = request.studio
    kwargs = {"studio": studio, "fill_ug": version.fill_ug}
    refused = False
    if request.method == "POST":
        adding = ADD_LINE in request.POST
        data: QueryDict = request.POST
        if adding:
            data = with_another_line(data, PREFIX, burning.JARS_AT_MOST, {})
        form = StartForm(data, version=version)
        jars = BurnJars(data, prefix=PREFIX, form_kwargs=kwargs)
        if adding:
            hush(form, jars)
        elif form.is_valid() and jars.is_valid() and (url := _start(request, version, form, jars)):
            return redirect(url)
        refused = not adding
    else:
        form, jars = StartForm(version=version), BurnJars(prefix=PREFIX, form_kwargs=kwargs)
        jars.extra = JARS_AT_FIRST
    context = {"version": version, "form": form, "lines": jars, "cautions": CAUTIONS}
    return answer(request, "batches/burn_start.html", context, refused=refused)


def _start(request: StudioRequest, version: FormulaVersion, form: StartForm, jars: FormSet) -> str | None:
    """Begin the test; None when it was refused, with the sentence on the form."""
    data = form.cleaned_data
    lines: list[Any] = [line for line in jars.forms if line.has_changed()]

    def act() -> str:
        test = burning.start(
            version.pk,
            [line.weighed() for line in lines],
            cycle_minutes=data["cycle_minutes"],
            plan=data["plan"],
            batch_id=data["batch"].pk if data["batch"] else None,
            signature=sign(request, happened_at=data["happened_at"]),
        )
        return test.get_absolute_url()

    try:
        return once(request, act)
    except burning.BurnError as error:
        form.add_error(NON_FIELD_ERRORS, str(error))
    return None


@allow(see=MAKERS, do=MAKERS)
def burn_read(request: StudioRequest, pk: int) -> HttpResponse:
    """What every jar showed at the end of a cycle: the next, or `?cycle=2` where a reading of it is wanting."""
    test = burn_test_of(pk)
    if not test.is_running:
        messages.warning(request, "This burn test was decided already; nothing is added to it.")
        return redirect(test)
    record = record_of(test)
    cycle, kind = _asked_cycle(request, record), _asked_kind(request)
    posted = request.POST if request.method == "POST" else None
    # A form that was sent speaks of the jars it showed, whatever a colleague read meanwhile.
    shown = [each.jar for each in record.jars if posted and f"jar{each.jar.pk}-soot" in posted]
    jars = shown or _to_read(record, cycle)
    studio = request.studio
    form = CycleForm(posted, initial={"cycle": cycle, "kind": kind})
    same = {"test": test, "studio": studio, "kind": kind, "use_required_attribute": False}
    lines = [
        SeenForm(posted, prefix=f"jar{jar.pk}", jar=jar, **same)  # type: ignore[arg-type]
        for jar in jars
    ]
    # Every jar is read before any is judged, so that all sentences show at once.
    valid = form.is_valid() and not [line for line in lines if not line.is_valid()]
    if posted is not None and valid and (url := _read(request, test, form, lines)):
        messages.success(request, f"Cycle {form.cleaned_data['cycle']} is kept.")
        return redirect(url)
    context = {
        "test": test,
        "record": record,
        "cycle": cycle,
        "is_end": kind == BurnReading.Kind.END,
        "form": form,
        "lines": lines,
        "cautions": CAUTIONS,
    }
    return answer(request, "batches/burn_read.html", context, refused=form.is_bound)


def _asked_cycle(request: StudioRequest, record: Record) -> int:
    """The cycle the page is about: posted, asked for in the address, or the next one."""
    text = request.POST.get("cycle") or request.GET.get("cycle", "")
    if text.isascii() and text.isdigit() and len(text) < 4 and 1 <= int(text) <= record.next_cycle:
        return int(text)
    return record.next_cycle


def _asked_kind(request: StudioRequest) -> str:
    """Whether the page is about a cycle like any other or the end of a life: as posted, or as asked in the address."""
    text = request.POST.get("kind") or request.GET.get("kind", "")
    return BurnReading.Kind.END if text == BurnReading.Kind.END else BurnReading.Kind.CYCLE


def _to_read(record: Record, cycle: int) -> list[BurnJar]:
    """The jars that have no standing reading of a cycle."""
    if cycle == record.next_cycle:
        return list(record.burning)
    return [jar for number, jar in record.unread if number == cycle]


def _read(request: StudioRequest, test: BurnTest, form: CycleForm, lines: list[SeenForm]) -> str | None:
    """Keep the readings; None when they were refused, with the sentence beside its jar."""
    data = form.cleaned_data
    seen = [line.seen() for line in lines if line.is_filled]

    def act() -> str:
        signature = sign(request, happened_at=data["happened_at"])
        kind = data["kind"] or BurnReading.Kind.CYCLE
        burning.read_cycle(test.pk, data["cycle"], seen, kind=kind, signature=signature)
        return test.get_absolute_url()

    try:
        return once(request, act)
    except burning.BurnError as error:
        line = next((line for line in lines if line.jar.pk == error.jar_id), None)
        (line or form).add_error("weight" if line else NON_FIELD_ERRORS, str(error))
    return None


@allow(see=MAKERS, do=MAKERS)
def burn_photo_add(request: StudioRequest, pk: int) -> HttpResponse:
    """Keep a photo beside the test."""
    test = burn_test_of(pk)
    form = BurnPhotoForm(
        request.POST or None,
        request.FILES or None,
        test=test,
        initial={"cycle": request.GET.get("cycle", ""), "jar": request.GET.get("jar", "")},
    )
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data

        def act() -> str:
            burning.add_photo(
                test.pk,
                data["photo"],
                text=data["text"],
                cycle=data["cycle"],
                jar_id=data["jar"].pk if data["jar"] else None,
                signature=sign(request),
            )
            return test.get_absolute_url() + "#photos"

        return redirect(once(request, act))
    context = {"test": test, "form": form}
    return answer(request, "batches/burn_photo.html", context, refused=request.method == "POST")


@allow(see=EVERYONE)
def burn_photo(request: StudioRequest, pk: int, photo: int) -> HttpResponse:
    """A photo of the test, as it was written anew."""
    found = get_object_or_404(BurnPhoto, pk=photo, test__pk=pk)
    return shown_picture(found.data, found.media_type, f"burn-test-{pk}-{found.pk}")


@allow(see=MAKERS, do=MAKERS)
def burn_strike(request: StudioRequest, pk: int, reading: int) -> HttpResponse:
    """Strike out a reading that was a slip; it stays to be seen, and the cycle is read anew."""
    test = burn_test_of(pk)
    found = get_object_or_404(
        BurnReading.objects.select_related("jar", "by"), pk=reading, jar__test__pk=test.pk
    )
    form = ReasonForm(request.POST or None)
    # A press sent again finds the reading struck out, and is led on by `once` before anything is looked at.
    if request.method == "POST" and form.is_valid():
        signature = sign(request, reason=form.cleaned_data["reason"][:200])

        def act() -> str:
            burning.strike(found.pk, signature=signature)
            return f"{reverse('batches:burn-read', args=[test.pk])}?cycle={found.cycle}"

        try:
            return redirect(once(request, act))
        except burning.BurnError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    elif request.method != "POST" and (found.struck_at or not test.is_running):
        messages.warning(request, "This reading is not struck out any more: see below.")
        return redirect(test)
    return answer(
        request,
        "batches/burn_strike.html",
        {"test": test, "reading": found, "form": form},
        refused=form.is_bound,
    )


@allow(see=MAKERS, do=MAKERS)
def burn_decide(request: StudioRequest, pk: int) -> HttpResponse:
    """Say whether a test passed."""
    test = burn_test_of(pk)
    record = record_of(test, unit=request.studio.scale)
    may_accept = request.user.role == Role.OWNER and record.judgement.suggests != "pass"
    form = DecideForm(request.POST or None, may_accept=may_accept)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        signature = sign(request, reason=data["verdict"])

        def act() -> str:
            because = data.get("accepted_because", "")
            burning.decide(test.pk, data["state"], accepted_because=because, signature=signature)
            return test.get_absolute_url()

        try:
            return redirect(once(request, act))
        except burning.OwnerDecides as error:
            form.add_error("state", str(error))
        except burning.SayWhy as error:
            form.add_error("accepted_because" if may_accept else NON_FIELD_ERRORS, str(error))
        except burning.BurnError as error:
            form.add_error(NON_FIELD_ERRORS, str(error))
    elif request.method != "POST" and not test.is_running:
        messages.warning(request, "This burn test was decided already.")
        return redirect(test)
    context = {"test": test, "record": record, "form": form}
    return answer(request, "batches/burn_decide.html", context, refused=form.is_bound)


@allow(see=EVERYONE, do=OWNER)
def burn_limits(request: StudioRequest) -> HttpResponse:
    """The limits in force, how they were before, and, for the owner, others from now on."""
    form = LimitsForm(request.POST or None, instance=burning.limits_in_force(), studio=request.studio)
    if request.method == "POST" and form.is_valid():
        limits = form.limits()

        def act() -> str:
            burning.set_limits(limits=limits, signature=sign(request))
            return reverse("batches:burn-limits")

        url = once(request, act)
        messages.success(request, "Set. Tests that begin from now on are held against it.")
        return redirect(url)
    rows = BurnLimits.objects.select_related("set_by")
    context = {"form": form, "page": page_of(request, rows), "current": burning.limits_in_force()}
    return answer(
        request,
        "batches/burn_limits.html",
        context,
        refused=form.is_bound,
    )
