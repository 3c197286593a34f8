"""The burn tests of Ninefold Lane, and what was approved on them; all figures are invented.

Its chances come from a generator of their own, so that the rest of the story does not hang on them.
"""

from datetime import datetime, time, timedelta
from random import Random

from batches.burn_tests import burning
from batches.burn_tests.burning import JarWeight, Observation
from batches.formulas import approving
from batches.formulas.covering import coverage
from batches.models import Amount, Batch, BurnJar, BurnReading, BurnTest, FormulaVersion, WentOut
from studio.demonstration.goods import MM, G
from studio.demonstration.stage import Product, Stage
from studio.models import User
from studio.people.signature import Signature

# By vessel: its weight empty, what burns in an hour, how wide the pool gets, and what the last 12 mm of wax weigh (a disk
# of that width at 0.9 g/mL).
VESSELS = {
    "jar": (268 * G, 54 * G // 10, 68 * MM, 39 * G),
    "tin": (31 * G, 43 * G // 10, 58 * MM, 28 * G),
    "bowl": (612 * G, 148 * G // 10, 112 * MM, 106 * G),
}
CYCLE = 240
# Two cycles a day, with hours between them to cool: read at five past one, and at half past eight in the evening.
READ_AT = (13 * 60 + 5, 20 * 60 + 30)
# A version was written and burned in the days before it is poured for sale.
LIT_BEFORE, DECIDED_BEFORE = 9, 2
# One was passed before its wax was used up, after so many cycles.
STOPPED_SHORT, SHORT_AFTER = "bowl", 4
SHORT_BECAUSE = "Even and cool over four cycles. One bowl is burned to its end before the season begins."
# The owner takes its wax, wick and tin from the other scent's tin, which was burned.
ON_HER_WORD = "quince_tin"
HER_REASON = "Same wax, wick and tin as Cedar & Black Tea, which burned well; only the scent is another."


class Burns:
    """Jars lit, read and decided on, by days before or after the day of the stage."""

    def __init__(self, stage: Stage, seed: int) -> None:
        self.stage = stage
        self.rng = Random(seed + 200)  # noqa: S311 — a story, not a secret

    def at(self, by: User, days_ago: int, minute: int, reason: str = "") -> Signature:
        """A signature some days before the day of the stage, written down two minutes later."""
        day = self.stage.day - timedelta(days=days_ago)
        happened_at = datetime.combine(day, time(minute // 60, minute % 60), self.stage.zone)
        return Signature(by, happened_at, happened_at + timedelta(minutes=2), reason)

    def approve(self, product: Product, version: FormulaVersion) -> None:
        """Burn what was never burned like this, then approve it; one is approved on the owner's word."""
        owner, key = self.stage.people.owner, product.story.key
        reason = "Burned evenly, load within every maximum."
        if version.fill_ug is None:
            reason = "Mixed and melted clean."
        elif key == ON_HER_WORD:
            reason = HER_REASON
        elif not coverage(version).is_covered:
            self._prove(version, vessel_of(key))
        approving.approve(version.pk, signature=self.at(owner, 0, 8 * 60, reason))

    def _prove(self, version: FormulaVersion, vessel: str) -> BurnTest:
        """Two jars over their whole life, and a pass; one test stops short, and passes on the owner's word."""
        maker, owner = self.stage.people.maker, self.stage.people.owner
        test = self._light(
            version, vessel, 2, LIT_BEFORE, "Wick, scent and vessel together, before it is sold."
        )
        short = vessel == STOPPED_SHORT
        cycle = 1
        while self._lasts_another(test, vessel) and not (short and cycle > SHORT_AFTER):
            self._read(test, vessel, cycle, *_when(cycle))
            cycle += 1
        if not short:
            self._read_end(test, vessel, cycle, *_when(cycle))
        verdict = "Even pool to the edge, a calm flame, no soot."
        return burning.decide(
            test.pk,
            BurnTest.State.PASSED,
            accepted_because=SHORT_BECAUSE if short else "",
            signature=self.at(owner if short else maker, DECIDED_BEFORE, 16 * 60, verdict),
        )

    def _light(
        self,
        version: FormulaVersion,
        vessel: str,
        jars: int,
        days_ago: int,
        plan: str,
        batch: Batch | None = None,
    ) -> BurnTest:
        empty, *_ = VESSELS[vessel]
        fill = version.fill_ug or 0
        weighed = [JarWeight(empty + self.rng.randint(-3, 3) * G + fill, fill) for _ in range(jars)]
        return burning.start(
            version.pk,
            weighed,
            cycle_minutes=CYCLE,
            plan=plan,
            batch_id=batch.pk if batch else None,
            signature=self.at(self.stage.people.maker, days_ago, 9 * 60),
        )

    def _lasts_another(self, test: BurnTest, vessel: str) -> bool:
        """Whether every jar has wax for a whole cycle, however fast it burns, above the depth at which a test ends."""
        _, rate, _, last = VESSELS[vessel]
        whole = rate * CYCLE // 60 * 104 // 100
        return all(_left(jar) - whole > last for jar in test.jars.all())

    def _read_end(self, test: BurnTest, vessel: str, cycle: int, days_ago: int, minute: int) -> None:
        """What the jars show when they are burned down to the last of their wax, and put out."""
        _, rate, _, last = VESSELS[vessel]
        seen = []
        for jar in test.jars.all():
            burned = (_left(jar) - last) // (G // 10) * (G // 10) + G
            seen.append(
                Observation(
                    jar_id=jar.pk,
                    minutes=burned * 60 // rate,
                    flame_um=self.rng.randint(34, 48) * MM,
                    soot=Amount.SLIGHT,
                    vessel_mc=self.rng.randint(55, 63) * 1_000,
                    weight_ug=_weight(jar) - burned,
                    wax_left_um=self.rng.randint(10, 12) * MM,
                    went_out=WentOut.PUT_OUT,
                )
            )
        signature = self.at(self.stage.people.maker, days_ago, minute)
        burning.read_cycle(test.pk, cycle, seen, kind=BurnReading.Kind.END, signature=signature)

    def _read(
        self,
        test: BurnTest,
        vessel: str,
        cycle: int,
        days_ago: int,
        minute: int = READ_AT[0],
        *,
        sooty: bool = False,
    ) -> None:
        """What the jars show, each in its own way; soot rises where the wick is too large."""
        _, rate, across, _ = VESSELS[vessel]
        seen = []
        for jar in test.jars.all():
            share = self.rng.randint(128, 140) if sooty else self.rng.randint(96, 104)
            burned = rate * CYCLE // 60 * share // 100 // (G // 10) * (G // 10)
            narrow = max(3 - cycle, 0) * 4 * MM
            seen.append(
                Observation(
                    jar_id=jar.pk,
                    minutes=CYCLE,
                    flame_um=self.rng.randint(62, 79) * MM if sooty else self.rng.randint(26, 41) * MM,
                    pool_um=across - (0 if sooty else narrow),
                    pool_depth_um=self.rng.randint(8, 12) * MM + (5 * MM if sooty else 0),
                    full_pool_after=self.rng.randint(60, 90) if sooty else self.rng.randint(150, 225),
                    mushrooming=Amount.HEAVY if sooty else Amount.SLIGHT if cycle > 2 else Amount.NONE,
                    soot=Amount.HEAVY if sooty and cycle > 1 else Amount.SLIGHT if sooty else Amount.NONE,
                    vessel_mc=self.rng.randint(58, 67) * 1_000 if sooty else self.rng.randint(42, 51) * 1_000,
                    weight_ug=_weight(jar) - burned,
                    note="Black on the rim." if sooty and cycle > 1 else "",
                )
            )
        signature = self.at(self.stage.people.maker, days_ago, minute)
        burning.read_cycle(test.pk, cycle, seen, signature=signature)

    def fail(self, version: FormulaVersion) -> None:
        """The first jars of a new scent, with a wick too large for it."""
        test = self._light(
            version, "jar", 2, 4, "New scent, the wick of the other jars.", _first_run(version)
        )
        for cycle in (1, 2, 3):
            self._read(test, "jar", cycle, 5 - cycle, sooty=True)
        verdict = "Sooty from the second cycle, the flame far too high: the wick is too large. Trim it, or a size down."
        signature = self.at(self.stage.people.owner, 1, 17 * 60, verdict)
        burning.decide(test.pk, BurnTest.State.FAILED, signature=signature)

    def burn_on(self, version: FormulaVersion) -> None:
        """The other two jars, trimmed shorter: two cycles read, one reading struck out and read anew, still burning.

        The second reading says nothing of soot and mushrooming, so that its cycle is not judged.
        """
        plan = "The two jars that were kept, the wick trimmed to 4 mm before every cycle."
        test = self._light(version, "jar", 2, 3, plan, _first_run(version))
        self._read(test, "jar", 1, 3)
        self._read(test, "jar", 2, 2)
        first = test.jars.all()[0].readings.get(cycle=2)
        reason = "Weighed with the lid on."
        burning.strike(first.pk, signature=self.at(self.stage.people.maker, 2, 14 * 60, reason))
        again = Observation(
            jar_id=first.jar_id,
            minutes=CYCLE,
            flame_um=first.flame_um,
            pool_um=first.pool_um,
            pool_depth_um=first.pool_depth_um,
            full_pool_after=first.full_pool_after,
            vessel_mc=first.vessel_mc,
            weight_ug=(first.weight_ug or 0) - G * 3 // 10,
            note="Without the lid.",
        )
        burning.read_cycle(test.pk, 2, [again], signature=self.at(self.stage.people.maker, 2, 14 * 60 + 5))


def vessel_of(key: str) -> str:
    """The vessel a product is poured into, by its key."""
    return key.rpartition("_")[2]


def _when(cycle: int) -> tuple[int, int]:
    """How many days ago a cycle was read, and at which minute of that day."""
    return LIT_BEFORE - (cycle - 1) // len(READ_AT), READ_AT[(cycle - 1) % len(READ_AT)]


def _weight(jar: BurnJar) -> int:
    """What a jar weighs now, vessel and all."""
    readings = jar.readings.filter(struck_at=None).order_by("-cycle")
    return readings.values_list("weight_ug", flat=True).first() or jar.start_ug


def _left(jar: BurnJar) -> int:
    """What is left of the melt in a jar."""
    return (jar.melt_ug or 0) - (jar.start_ug - _weight(jar))


def _first_run(version: FormulaVersion) -> Batch:
    return version.batches.order_by("pk")[0]
