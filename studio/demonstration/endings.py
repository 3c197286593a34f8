"""How runs end at Ninefold Lane: in two parts, with melt recovered and samples kept, weighed, and once given up.

Its chances come from a generator of their own, so that the rest of the story does not hang on them.
"""

from dataclasses import replace
from datetime import timedelta
from random import Random

from batches.fill_checks.checking import check_fill
from batches.models import Batch, Reading
from batches.production import finishing
from batches.production.finishing import Recovered, Result
from inventory.models import Item
from studio.demonstration import story
from studio.demonstration.goods import G
from studio.models import Market
from studio.people.signature import Signature

# What is finished by hand, and so comes out over two days now and then.
BY_HAND = {"cedar_bowl", "tides_jar"}
# What pours the scent whose melt is kept.
KEPT_MELT = {"cedar_jar", "cedar_tin"}
# Why seconds are seconds, run by run; now and then nobody says.
SECONDS_BECAUSE = ("Frosting", "Rough top", "", "Frosting", "Wick off centre", "Rough top", "Discolouration")
# Fills are weighed since then, and one of the last runs came out light.
WEIGHED_SINCE = 20
# A sample is kept of three runs in four, a run in two parts once in two, melt is recovered from one in two.
ODDS = 4
# In a room cooler than this, in thousandths of a degree, wax draws away from the glass more often than not.
COOL_ROOM = 19_500


class Endings:
    """What comes out of a run when, and what is looked at."""

    def __init__(self, seed: int) -> None:
        self.rng = Random(seed + 1)  # noqa: S311 — a story, not a secret
        self.cold = Random(seed + 2)  # noqa: S311
        self.light: int | None = None  # the run that came out light

    def complete(self, told: story.ProductStory, result: Result, kept_as: Item) -> Result:
        """The result with a sample kept and melt recovered, as it falls."""
        if told.blend_of or result.good < 20:
            return result
        retained = 1 if self.rng.randrange(ODDS) else 0
        recovered: tuple[Recovered, ...] = ()
        if told.key in KEPT_MELT and self.rng.randrange(2):
            recovered = (Recovered(kept_as, self.rng.randint(180, 420) * G),)
        return replace(result, retained=retained, recovered=recovered)

    def cooled(self, batch: Batch, result: Result) -> Result:
        """What a cool room does: the seconds have wet spots too large to be sold, three times in four."""
        room = batch.readings.filter(kind=Reading.Kind.ROOM).first()
        if room is None or room.temperature_mc >= COOL_ROOM or not self.cold.randrange(ODDS):
            return result
        scrap = dict(result.scrap)
        scrap["Wet spots"] = scrap.get("Wet spots", 0) + result.seconds
        return replace(result, seconds=0, scrap=scrap)

    def looked_at(self, batch: Batch, result: Result) -> Result:
        """What makes them seconds: told of all but one here and there, one run in four told nothing."""
        words = SECONDS_BECAUSE[batch.pk % len(SECONDS_BECAUSE)]
        told = result.seconds - (batch.pk % 2 if result.seconds > 1 else 0)
        return replace(result, flawed={words: told}) if words and told else result

    def halves(self, told: story.ProductStory, result: Result) -> tuple[Result, Result] | None:
        """The part that is ready today and the part that is ready tomorrow, where a run is not ready at once."""
        if told.key not in BY_HAND or self.rng.randrange(2):
            return None
        first = result.good // 2
        return Result(good=first), replace(result, good=result.good - first)

    def weigh(self, batch: Batch, told: story.ProductStory, days_ago: int, signature: Signature) -> None:
        """Weigh what was filled in the last weeks: a run of a hundred by a sample, a smaller one whole."""
        declared = batch.version.declared_ug or batch.version.fill_ug
        if not declared or told.scripted or days_ago > WEIGHED_SINCE:
            return
        made = sum(batch.outcomes.standing().filter(lot__item=batch.item).values_list("quantity", flat=True))
        # It still cures, so nobody was asked to release it.
        light = self.light is None and days_ago < batch.version.cure_days
        if light:
            self.light = batch.pk
        steps = (-2, -1, -1, 0, 0, 0, 1) if light else (-1, 0, 0, 1, 1, 1, 2)
        weights = [declared + self.rng.choice(steps) * G for _ in range(made if made < 100 else 30)]
        check_fill(
            batch.pk,
            weights,
            declared_ug=declared,
            market=Market.EU,
            lot_size=made,
            note="The pot ran short; topped up by eye." if light else "",
            signature=signature.at(signature.happened_at + timedelta(minutes=12)),
        )

    def give_up(self, batch: Batch, melt_ug: int, kept_as: Item, signature: Signature) -> None:
        """The power went while the wax was hot; a third of the melt is good for something."""
        recovered = [Recovered(kept_as, melt_ug // 3 // G * G)]
        reason = "The power went for four hours and the melt stood hot all along; it has darkened."
        finishing.abandon(batch.pk, recovered, signature=signature.because(reason))
