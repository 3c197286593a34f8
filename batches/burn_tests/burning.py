"""Burn tests: started, read cycle by cycle, struck out where a slip was made, and decided by a person.

Locking: the version where a test starts, the test everywhere else.
"""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from django.db import transaction

from batches.burn_tests.record import Record, record_of, with_readings
from batches.models import (
    Batch,
    BurnJar,
    BurnLimits,
    BurnPhoto,
    BurnReading,
    BurnTest,
    FormulaVersion,
)
from studio.core.quantities import format_quantity
from studio.models import Role
from studio.people.signature import Signature
from studio.web.uploads import Received

JARS_AT_MOST = 12
CYCLES_AT_MOST = 60
NOT_STARTED = (Batch.State.PLANNED, Batch.State.CALLED_OFF)


class BurnError(Exception):
    """What was asked of a burn test cannot be done. Its text is a sentence; `jar_id` names the jar it is about."""

    def __init__(self, sentence: str, jar_id: int | None = None) -> None:
        super().__init__(sentence)
        self.jar_id = jar_id


class BurnEnded(BurnError):
    """The test was decided already."""


class OwnerDecides(BurnError):
    """The readings do not speak for a pass, so only the owner may pass it, and says why. Carries `why`, sentences."""

    def __init__(self, why: Sequence[str]) -> None:
        super().__init__("The readings do not speak for a pass, so only the owner may pass this test.")
        self.why = tuple(why)


class SayWhy(BurnError):
    """The owner passes what the readings do not speak for, and has still to say why."""


@dataclass(frozen=True)
class JarWeight:
    """A jar before it is first lit, µg: vessel and all, and the melt in it where it is known."""

    start_ug: int
    melt_ug: int | None = None


@dataclass(frozen=True)
class Observation:
    """What one jar showed in one cycle: minutes, lengths in µm, m°C, and the weight after it, vessel and all, in µg.

    None and empty: not observed. The depth of wax left and how the flame went out belong to the end of a life alone.
    """

    jar_id: int
    minutes: int
    flame_um: int | None = None
    pool_um: int | None = None
    pool_depth_um: int | None = None
    full_pool_after: int | None = None
    mushrooming: str = ""
    soot: str = ""
    vessel_mc: int | None = None
    weight_ug: int | None = None
    wax_left_um: int | None = None
    went_out: str = ""
    note: str = ""


def limits_in_force() -> BurnLimits:
    """The limits set last. There always are some: the studio begins with a first row."""
    return BurnLimits.objects.all()[0]


@transaction.atomic
def set_limits(*, limits: Mapping[str, Any], signature: Signature) -> BurnLimits:
    """Set what burn tests from now on must stay within; tests that began before keep theirs.

    `limits` holds the columns of BurnLimits. Raises BurnError for somebody other than the owner.
    """
    if signature.by.role != Role.OWNER:
        raise BurnError("Only the owner sets the limits.")
    return BurnLimits.objects.create(**limits, set_by=signature.by, set_at=signature.recorded_at)


@transaction.atomic
def start(
    version_id: int,
    jars: Sequence[JarWeight],
    *,
    cycle_minutes: int,
    plan: str = "",
    batch_id: int | None = None,
    signature: Signature,
) -> BurnTest:
    """Begin a burn test of jars of one version, numbered from 1 as given. Raises BurnError.

    From here on the version stays as it is.
    """
    version = FormulaVersion.objects.select_for_update(of=("self",)).get(pk=version_id)
    if version.fill_ug is None:
        raise BurnError("A blend is not burned by itself. Test the candle that is made of it.")
    if not 1 <= len(jars) <= JARS_AT_MOST:
        raise BurnError(f"Weigh from 1 to {JARS_AT_MOST} jars.")
    for number, jar in enumerate(jars, 1):
        if jar.melt_ug is not None and jar.melt_ug > jar.start_ug:
            raise BurnError(f"Jar {number} weighs less than the melt in it. Check both figures.")
    if batch_id is not None:
        batch = Batch.objects.get(pk=batch_id)
        if batch.version_id != version.pk or batch.state in NOT_STARTED:
            raise BurnError(f"No jars of this version came from batch {batch.spaced_code}.")
    test = BurnTest.objects.create(
        version=version,
        batch_id=batch_id,
        limits=limits_in_force(),
        cycle_minutes=cycle_minutes,
        plan=plan,
        started_by=signature.by,
        started_at=signature.happened_at,
    )
    BurnJar.objects.bulk_create(
        BurnJar(test=test, number=number, start_ug=jar.start_ug, melt_ug=jar.melt_ug)
        for number, jar in enumerate(jars, 1)
    )
    return test


def _running(test_id: int) -> BurnTest:
    """The test, locked and still burning. Raises BurnEnded."""
    test = BurnTest.objects.select_for_update(of=("self",)).select_related("limits").get(pk=test_id)
    if test.state != BurnTest.State.RUNNING:
        raise BurnEnded("This burn test was decided already; nothing is added to it. Start a new one.")
    return test


@transaction.atomic
def read_cycle(
    test_id: int,
    cycle: int,
    seen: Sequence[Observation],
    *,
    kind: str = BurnReading.Kind.CYCLE,
    signature: Signature,
) -> list[BurnReading]:
    """Write down what jars showed in a cycle, all of it or nothing; `kind` says whether their life ended with it.

    Raises BurnError, BurnEnded.
    """
    test = _running(test_id)
    if not seen:
        raise BurnError("Enter what at least one jar showed.")
    if not 1 <= cycle <= CYCLES_AT_MOST:
        raise BurnError(f"A test has at most {CYCLES_AT_MOST} cycles.")
    if signature.happened_at < test.started_at:
        raise BurnError("This lies before the test began. Check the time.")
    jars = {jar.pk: jar for jar in test.jars.all()}
    standing: dict[int, dict[int, BurnReading]] = {jar_id: {} for jar_id in jars}
    for reading in BurnReading.objects.filter(jar__in=jars, struck_at=None):
        standing[reading.jar_id][reading.cycle] = reading
    # A slip in an early cycle is struck out and read anew; what is new follows the last cycle of the test.
    following = max((number for read in standing.values() for number in read), default=0) + 1
    if cycle > following:
        raise BurnError(f"Cycle {following} comes first.")
    written = []
    for each in seen:
        if each.jar_id not in jars:
            raise BurnError("A jar of another test was read.", each.jar_id)
        _check(jars[each.jar_id], cycle, each, standing[each.jar_id])
        _check_end(jars[each.jar_id], cycle, each, kind, standing[each.jar_id])
        fields = asdict(each) | {"cycle": cycle, "kind": kind}
        written.append(BurnReading.objects.create(**fields, by=signature.by, at=signature.happened_at))
    return written


def _check(jar: BurnJar, cycle: int, seen: Observation, standing: Mapping[int, BurnReading]) -> None:
    """A cycle is read once, and a burning jar only gets lighter, by no more than its melt. Raises BurnError."""
    if cycle in standing:
        raise BurnError(f"Cycle {cycle} of jar {jar.number} was read already. Strike it out first.", jar.pk)
    if seen.full_pool_after is not None and seen.full_pool_after > seen.minutes:
        raise BurnError(f"Jar {jar.number}: the full pool came after the cycle ended. Check both.", jar.pk)
    if seen.weight_ug is None:
        return
    weights = {number: each.weight_ug for number, each in standing.items() if each.weight_ug is not None}
    before = min([jar.start_ug, *(weight for number, weight in weights.items() if number < cycle)])
    after = max((weight for number, weight in weights.items() if number > cycle), default=0)
    if seen.weight_ug > before:
        raise BurnError(
            f"Jar {jar.number} weighed {format_quantity(before, 'g')} before and cannot have gained. "
            "Check the figure.",
            jar.pk,
        )
    if seen.weight_ug < after:
        raise BurnError(
            f"Jar {jar.number} weighed {format_quantity(after, 'g')} afterwards and cannot have weighed less now.",
            jar.pk,
        )
    if jar.melt_ug is not None and jar.start_ug - seen.weight_ug > jar.melt_ug:
        raise BurnError(
            f"Jar {jar.number} lost more than the {format_quantity(jar.melt_ug, 'g')} of melt that was in it. "
            "Check the figure.",
            jar.pk,
        )


def _check_end(
    jar: BurnJar, cycle: int, seen: Observation, kind: str, standing: Mapping[int, BurnReading]
) -> None:
    """A life ends once, and nothing burns after it. Raises BurnError."""
    if kind != BurnReading.Kind.END:
        if seen.wax_left_um is not None or seen.went_out:
            raise BurnError(f"Jar {jar.number}: read the end of its life as a cycle of its own.", jar.pk)
    elif any(number > cycle for number in standing):
        raise BurnError(
            f"Jar {jar.number} burned on after cycle {cycle}, so its life did not end with it.", jar.pk
        )
    ended = next((number for number, each in standing.items() if each.kind == BurnReading.Kind.END), None)
    if ended is not None and (kind == BurnReading.Kind.END or cycle > ended):
        raise BurnError(
            f"Jar {jar.number} came to its end in cycle {ended}. Strike that reading out first.", jar.pk
        )


@transaction.atomic
def strike(reading_id: int, *, signature: Signature) -> BurnReading:
    """Strike out a reading that was a slip, for the reason the signature gives; it stays to be seen.

    Raises BurnError, BurnEnded.
    """
    test_id = BurnReading.objects.values_list("jar__test", flat=True).get(pk=reading_id)
    _running(test_id)
    reading = BurnReading.objects.get(pk=reading_id)
    if reading.struck_at is not None:
        raise BurnError("This reading was struck out already.")
    if not signature.reason:
        raise BurnError("Say what was wrong with it.")
    reading.struck_by, reading.struck_at = signature.by, signature.recorded_at
    reading.struck_because = signature.reason
    reading.save(update_fields=["struck_by", "struck_at", "struck_because"])
    return reading


@transaction.atomic
def decide(test_id: int, state: str, *, accepted_because: str = "", signature: Signature) -> BurnTest:
    """End a test: passed, failed or broken off, with the reason the signature gives as the verdict.

    Where the readings do not speak for a pass, whether something went beyond a limit, was not observed, or the test
    stopped short of the candle's end, only the owner may pass it, with `accepted_because`; what spoke against it is kept
    beside that reason. Raises BurnError, BurnEnded, OwnerDecides, SayWhy.
    """
    test = _running(test_id)
    ends = (BurnTest.State.PASSED, BurnTest.State.FAILED, BurnTest.State.BROKEN_OFF)
    if state not in ends:
        raise BurnError("Say whether it passed, failed or was broken off.")
    if not signature.reason:
        raise BurnError("Say in a few words why.")
    record = _record(test)
    if state != BurnTest.State.BROKEN_OFF and not record.cycles:
        raise BurnError("Nothing was read yet. Read a cycle, or break the test off.")
    if state == BurnTest.State.PASSED and record.judgement.suggests != "pass":
        if signature.by.role != Role.OWNER:
            raise OwnerDecides(record.judgement.against)
        if not accepted_because:
            raise SayWhy("The readings do not speak for a pass. Say why it passes, or choose something else.")
        test.lacked = "\n".join((f"Burned {record.hours_words}.", *record.judgement.against))
        test.accepted_because = accepted_because
    test.state, test.verdict = state, signature.reason
    test.decided_by, test.decided_at = signature.by, signature.happened_at
    test.save(
        update_fields=["state", "verdict", "decided_by", "decided_at", "lacked", "accepted_because"],
    )
    return test


def _record(test: BurnTest) -> Record:
    return record_of(with_readings(BurnTest.objects.filter(pk=test.pk)).get())


def add_photo(
    test_id: int,
    photo: Received,
    *,
    text: str,
    cycle: int | None = None,
    jar_id: int | None = None,
    signature: Signature,
) -> BurnPhoto:
    """Keep a photo beside a burn test, one that was decided too: what it looked like stays a fact.

    `cycle` says when it was taken; without a jar it shows all that burned then. Raises BurnError for a jar of another
    test, and for a jar without its cycle.
    """
    if jar_id is not None and cycle is None:
        raise BurnError("Say of which cycle it is.", jar_id)
    if jar_id is not None and not BurnJar.objects.filter(pk=jar_id, test_id=test_id).exists():
        raise BurnError("A jar of another test was chosen.", jar_id)
    return BurnPhoto.objects.create(
        test_id=test_id,
        cycle=cycle,
        jar_id=jar_id,
        text=text,
        media_type=photo.media_type,
        digest=hashlib.sha256(photo.data).hexdigest(),
        size=len(photo.data),
        data=photo.data,
        by=signature.by,
        at=signature.happened_at,
    )
