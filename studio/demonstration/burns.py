"""The burn tests of Ninefold Lane, and what was approved on them; all figures are invented.

Its chances come from a generator of their own, so that the rest of the story does not hang on them.
"""

from datetime import datetime, time, timedelta
from random import Random

from batches.burn_tests import burning
from batches.burn_tests.burning import Seen, Weighed
from batches.formulas import approving
from batches.formulas.covering import coverage
from batches.models import Amount, Batch, BurnTest, FormulaVersion
from studio.demonstration.goods import MM, G
from studio.demonstration.stage import Product, Stage
from studio.models import User
from studio.signature import Signature

# By vessel: its weight empty, what burns in an hour, and how wide the pool gets.
VESSELS = {
    "jar": (268 * G, 54 * G // 10, 68 * MM),
    "tin": (31 * G, 43 * G // 10, 58 * MM),
    "bowl": (612 * G, 148 * G // 10, 112 * MM),
}
CYCLE = 240
CYCLES = 3
# A version was written and burned in the days before it is poured for sale.
LIT_BEFORE, DECIDED_BEFORE = 9, 5
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
        """Two jars over three cycles, and a pass."""
        maker = self.stage.people.maker
        test = self._light(
            version, vessel, 2, LIT_BEFORE, "Wick, scent and vessel together, before it is sold."
        )
        for cycle in range(1, CYCLES + 1):
            self._read(test, vessel, cycle, LIT_BEFORE - cycle + 1)
        verdict = "Even pool to the edge, a calm flame, no soot."
        signature = self.at(maker, DECIDED_BEFORE, 16 * 60, verdict)
        return burning.decide(test.pk, BurnTest.State.PASSED, signature=signature)

    def _light(
        self,
        version: FormulaVersion,
        vessel: str,
        jars: int,
        days_ago: int,
        plan: str,
        batch: Batch | None = None,
    ) -> BurnTest:
        empty, _, _ = VESSELS[vessel]
        fill = version.fill_ug or 0
        weighed = [Weighed(empty + self.rng.randint(-3, 3) * G + fill, fill) for _ in range(jars)]
        return burning.start(
            version.pk,
            weighed,
            cycle_minutes=CYCLE,
            plan=plan,
            batch_id=batch.pk if batch else None,
            signature=self.at(self.stage.people.maker, days_ago, 9 * 60),
        )

    def _read(self, test: BurnTest, vessel: str, cycle: int, days_ago: int, *, sooty: bool = False) -> None:
        """What the jars show at one o'clock, each in its own way; soot rises where the wick is too large."""
        _, rate, across = VESSELS[vessel]
        seen = []
        for jar in test.jars.all():
            left = (
                jar.readings.filter(struck_at=None)
                .order_by("-cycle")
                .values_list("weight_ug", flat=True)
                .first()
            )
            share = self.rng.randint(128, 140) if sooty else self.rng.randint(96, 104)
            burned = rate * CYCLE // 60 * share // 100 // (G // 10) * (G // 10)
            narrow = max(3 - cycle, 0) * 4 * MM
            seen.append(
                Seen(
                    jar_id=jar.pk,
                    minutes=CYCLE,
                    flame_um=self.rng.randint(62, 79) * MM if sooty else self.rng.randint(26, 41) * MM,
                    pool_um=across - (0 if sooty else narrow),
                    pool_depth_um=self.rng.randint(8, 12) * MM + (5 * MM if sooty else 0),
                    full_pool_after=self.rng.randint(60, 90) if sooty else self.rng.randint(150, 225),
                    mushrooming=Amount.HEAVY if sooty else Amount.SLIGHT if cycle > 2 else Amount.NONE,
                    soot=Amount.HEAVY if sooty and cycle > 1 else Amount.SLIGHT if sooty else Amount.NONE,
                    vessel_mc=self.rng.randint(58, 67) * 1_000 if sooty else self.rng.randint(42, 51) * 1_000,
                    weight_ug=(left or jar.start_ug) - burned,
                    note="Black on the rim." if sooty and cycle > 1 else "",
                )
            )
        signature = self.at(self.stage.people.maker, days_ago, 13 * 60 + 5)
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
        """The other two jars, trimmed shorter: two cycles read, one reading struck out and read anew, still burning."""
        plan = "The two jars that were kept, the wick trimmed to 4 mm before every cycle."
        test = self._light(version, "jar", 2, 3, plan, _first_run(version))
        self._read(test, "jar", 1, 3)
        self._read(test, "jar", 2, 2)
        first = test.jars.all()[0].readings.get(cycle=2)
        reason = "Weighed with the lid on."
        burning.strike(first.pk, signature=self.at(self.stage.people.maker, 2, 14 * 60, reason))
        again = Seen(
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


def _first_run(version: FormulaVersion) -> Batch:
    return version.batches.order_by("pk")[0]
