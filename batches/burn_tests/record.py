"""A burn test as it stands: its readings by cycle, what each jar burned, and what the limits say."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Exists, OuterRef, Prefetch

from batches.burn_tests.burn import (
    Burned,
    Cycle,
    Judgement,
    Limits,
    Struck,
    breaches,
    burned,
    hours_left,
    judge,
    life,
    together,
    unobserved,
    unread,
)
from batches.models import BurnJar, BurnLimits, BurnPhoto, BurnReading, BurnTest
from batches.querysets import BurnTestQuerySet
from studio.core.numerals import hours_text
from studio.core.temperatures import Scale


@dataclass(frozen=True)
class ReadingRow:
    """A reading, what burned up to its weighing, what went beyond the limits and what they ask for and nobody observed.

    Struck out, it counts for nothing.
    """

    jar: BurnJar
    reading: BurnReading
    burned: Burned | None
    beyond: tuple[str, ...]
    missing: tuple[str, ...]


@dataclass(frozen=True)
class JarRecord:
    """A jar with all it burned so far, and the hours its melt should last.

    `hours` is how long it burned, weighed or not; `life` and `left` are estimates by the rate seen, None where it was
    not weighed. `melt_ug` is the melt in it or, where nobody noted it, the fill weight of the formula. `ended`: its end of
    life was read.
    """

    jar: BurnJar
    cycles: int
    burned: Burned | None
    melt_ug: int
    hours: Fraction
    life: Fraction | None
    left: Fraction | None
    ended: bool


@dataclass(frozen=True)
class Record:
    """The whole test. `cycles` is the last cycle read, 0 before the first; `life` in hours, of the average jar.

    `hours` are those of the jar that burned least; `unjudged` the cycles in which a reading is missing.
    """

    test: BurnTest
    rows: tuple[tuple[int, tuple[ReadingRow, ...]], ...]
    jars: tuple[JarRecord, ...]
    cycles: int
    burned: Burned | None
    hours: Fraction
    life: Fraction | None
    judgement: Judgement
    unread: tuple[tuple[int, BurnJar], ...]

    @property
    def burning(self) -> tuple[BurnJar, ...]:
        """The jars whose end of life was not read yet."""
        return tuple(each.jar for each in self.jars if not each.ended)

    @property
    def hours_words(self) -> str:
        """ "12 h of about 38 h expected (an estimate)", or that it is not known yet, for want of a weighing."""
        burned_for = hours_text(self.hours)
        if self.life is None:
            return f"{burned_for}; how many to expect is not known yet"
        return f"{burned_for} of about {hours_text(self.life)} expected (an estimate)"

    @property
    def next_cycle(self) -> int:
        """The cycle to be read next."""
        return self.cycles + 1


def with_readings(tests: BurnTestQuerySet) -> BurnTestQuerySet:
    """Tests with all a record is made of: product, limits, jars, photos, and readings in order, struck ones too."""
    readings = BurnReading.objects.select_related("by", "struck_by").order_by("cycle", "pk")
    photos = BurnPhoto.objects.defer("data").select_related("by", "jar")
    return tests.with_product().prefetch_related(
        "jars", Prefetch("jars__readings", readings), Prefetch("photos", photos)
    )


def burns_on() -> Exists:
    """Whether a test has a jar whose end of life was not read yet, in the query of the test."""
    ends = BurnReading.objects.filter(jar=OuterRef("pk"), kind=BurnReading.Kind.END, struck_at=None)
    return Exists(BurnJar.objects.filter(~Exists(ends), test=OuterRef("pk")))


def as_limits(limits: BurnLimits) -> Limits:
    """The limits as plain figures."""
    return Limits(
        flame_um=limits.flame_um,
        vessel_mc=limits.vessel_mc,
        soot=limits.soot,
        mushrooming=limits.mushrooming,
        full_pool_within=limits.full_pool_within_minutes,
        cycles=limits.cycles,
        weight_asked=limits.weight_asked,
        photo_asked=limits.photo_asked,
        wax_left_um=limits.wax_left_um,
        end_flame_um=limits.end_flame_um,
        end_vessel_mc=limits.end_vessel_mc,
    )


Pictured = frozenset[tuple[int, int | None]]


def _pictured(test: BurnTest) -> Pictured:
    """The cycles a photo was taken of, each with its jar, or None for all of them; what came after the verdict is left
    out, for nobody had it before them then."""
    return frozenset(
        (photo.cycle, photo.jar_id)
        for photo in test.photos.all()
        if photo.cycle is not None and (test.decided_at is None or photo.at <= test.decided_at)
    )


def as_cycle(reading: BurnReading, pictured: Pictured = frozenset()) -> Cycle:
    """A reading as plain figures."""
    return Cycle(
        number=reading.cycle,
        minutes=reading.minutes,
        flame_um=reading.flame_um,
        full_pool_after=reading.full_pool_after,
        mushrooming=reading.mushrooming,
        soot=reading.soot,
        vessel_mc=reading.vessel_mc,
        weight_ug=reading.weight_ug,
        kind=reading.kind,
        wax_left_um=reading.wax_left_um,
        went_out=reading.went_out,
        photo=not pictured.isdisjoint({(reading.cycle, None), (reading.cycle, reading.jar_id)}),
    )


def record_of(test: BurnTest, *, unit: Scale = "C") -> Record:
    """The record of a test read by `with_readings`. No queries."""
    limits, pictured = as_limits(test.limits), _pictured(test)
    rows: dict[int, list[ReadingRow]] = {}
    jars: list[JarRecord] = []
    of_jar: list[tuple[BurnJar, Sequence[Cycle]]] = []
    struck: list[Struck] = []
    for jar in test.jars.all():
        readings = list(jar.readings.all())
        cycles = [as_cycle(reading, pictured) for reading in readings if reading.struck_at is None]
        stretches = burned(jar.start_ug, cycles)
        by_cycle = {each.cycle: each for each in stretches}
        for reading in readings:
            cycle, stands = as_cycle(reading, pictured), reading.struck_at is None
            row = ReadingRow(
                jar,
                reading,
                by_cycle.get(reading.cycle) if stands else None,
                tuple(breaches(cycle, limits, unit=unit)) if stands else (),
                tuple(unobserved(cycle, limits)) if stands else (),
            )
            rows.setdefault(reading.cycle, []).append(row)
            if not stands:
                struck.append(Struck(jar.number, cycle, str(reading.struck_by), reading.struck_because))
        jars.append(_jar(jar, test, cycles, together(stretches)))
        of_jar.append((jar, cycles))
    last = max((cycle.number for _, cycles in of_jar for cycle in cycles), default=0)
    measured = [each for each in jars if each.burned is not None]
    total = together([each.burned for each in measured if each.burned is not None])
    missed = [(number, jar) for jar, cycles in of_jar for number in unread(cycles, last)]
    return Record(
        test=test,
        rows=tuple((cycle, tuple(rows[cycle])) for cycle in sorted(rows)),
        jars=tuple(jars),
        cycles=last,
        burned=total,
        hours=min((each.hours for each in jars), default=Fraction(0)),
        life=life(_average_melt(measured), total),
        judgement=judge(
            [(jar.number, cycles) for jar, cycles in of_jar],
            limits,
            unit=unit,
            filled={each.jar.number: (each.jar.start_ug, each.melt_ug) for each in jars},
            struck=struck,
        ),
        unread=tuple(sorted(missed, key=lambda each: (each[0], each[1].number))),
    )


def _jar(jar: BurnJar, test: BurnTest, cycles: Sequence[Cycle], so_far: Burned | None) -> JarRecord:
    melt_ug = jar.melt_ug if jar.melt_ug is not None else test.version.fill_ug or 0
    return JarRecord(
        jar=jar,
        cycles=len(cycles),
        burned=so_far,
        melt_ug=melt_ug,
        hours=Fraction(sum(cycle.minutes for cycle in cycles), 60),
        life=life(melt_ug, so_far),
        left=hours_left(melt_ug, jar.start_ug, cycles, so_far),
        ended=any(cycle.is_end for cycle in cycles),
    )


def _average_melt(jars: Sequence[JarRecord]) -> Fraction | None:
    """The melt in a jar on average, over those that were measured."""
    return Fraction(sum(each.melt_ug for each in jars), len(jars)) if jars else None
