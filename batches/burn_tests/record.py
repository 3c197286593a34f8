"""A burn test as it stands: its readings by cycle, what each jar burned, and what the limits say."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from django.db.models import Prefetch

from batches.burn_tests.burn import Burned, Cycle, Judgement, Limits, breaches, burned, judge, life, together
from batches.models import BurnJar, BurnLimits, BurnReading, BurnTest
from batches.querysets import BurnTestQuerySet
from studio.temperatures import Scale


@dataclass(frozen=True)
class Row:
    """A reading, what burned up to its weighing, and what went beyond the limits. Struck out, it counts for nothing."""

    jar: BurnJar
    reading: BurnReading
    burned: Burned | None
    beyond: tuple[str, ...]


@dataclass(frozen=True)
class JarRecord:
    """A jar with all it burned so far and the hours its melt should last."""

    jar: BurnJar
    cycles: int
    burned: Burned | None
    life: Fraction | None


@dataclass(frozen=True)
class Record:
    """The whole test. `cycles` is the last cycle read, 0 before the first; `life` in hours, of the average jar."""

    test: BurnTest
    rows: tuple[tuple[int, tuple[Row, ...]], ...]
    jars: tuple[JarRecord, ...]
    cycles: int
    burned: Burned | None
    life: Fraction | None
    judgement: Judgement
    unread: tuple[tuple[int, BurnJar], ...]

    @property
    def next_cycle(self) -> int:
        """The cycle to be read next."""
        return self.cycles + 1


def with_readings(tests: BurnTestQuerySet) -> BurnTestQuerySet:
    """Tests with all a record is made of: product, limits, jars, and their readings in order, struck ones too."""
    readings = BurnReading.objects.select_related("by", "struck_by").order_by("cycle", "pk")
    return tests.with_product().prefetch_related("jars", Prefetch("jars__readings", readings))


def as_limits(limits: BurnLimits) -> Limits:
    """The limits as plain figures."""
    return Limits(
        flame_um=limits.flame_um,
        vessel_mc=limits.vessel_mc,
        soot=limits.soot,
        mushrooming=limits.mushrooming,
        full_pool_within=limits.full_pool_within_minutes,
        cycles=limits.cycles,
    )


def as_cycle(reading: BurnReading) -> Cycle:
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
    )


def record_of(test: BurnTest, *, unit: Scale = "C") -> Record:
    """The record of a test read by `with_readings`. No queries."""
    limits = as_limits(test.limits)
    rows: dict[int, list[Row]] = {}
    jars: list[JarRecord] = []
    of_jar: list[tuple[int, Sequence[Cycle]]] = []
    for jar in test.jars.all():
        readings = list(jar.readings.all())
        cycles = [as_cycle(reading) for reading in readings if reading.struck_at is None]
        stretches = burned(jar.start_ug, cycles)
        by_cycle = {each.cycle: each for each in stretches}
        for reading in readings:
            stands = reading.struck_at is None
            row = Row(
                jar,
                reading,
                by_cycle.get(reading.cycle) if stands else None,
                tuple(breaches(as_cycle(reading), limits, unit=unit)) if stands else (),
            )
            rows.setdefault(reading.cycle, []).append(row)
        so_far = together(stretches)
        jars.append(JarRecord(jar, len(cycles), so_far, life(jar.melt_ug, so_far)))
        of_jar.append((jar.number, cycles))
    last = max((cycle.number for _, cycles in of_jar for cycle in cycles), default=0)
    measured = [each for each in jars if each.burned is not None]
    total = together([each.burned for each in measured if each.burned is not None])
    return Record(
        test=test,
        rows=tuple((cycle, tuple(rows[cycle])) for cycle in sorted(rows)),
        jars=tuple(jars),
        cycles=last,
        burned=total,
        life=life(_average_melt(measured), total),
        judgement=judge(of_jar, limits, unit=unit),
        unread=_unread(test, of_jar, last),
    )


def _average_melt(jars: Sequence[JarRecord]) -> Fraction | None:
    """The melt in a jar on average, over those that were measured; None where it is not known of one of them."""
    melts = [each.jar.melt_ug for each in jars]
    known = [melt for melt in melts if melt is not None]
    return Fraction(sum(known), len(known)) if known and len(known) == len(melts) else None


def _unread(
    test: BurnTest, of_jar: Sequence[tuple[int, Sequence[Cycle]]], last: int
) -> tuple[tuple[int, BurnJar], ...]:
    """Cycles up to the last that a jar has no standing reading of, by cycle."""
    found = []
    for jar, (_, cycles) in zip(test.jars.all(), of_jar, strict=True):
        read = {cycle.number for cycle in cycles}
        found += [(number, jar) for number in range(1, last + 1) if number not in read]
    return tuple(sorted(found, key=lambda each: (each[0], each[1].number)))
