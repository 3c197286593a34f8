"""The outlook of every item of the facts together: what one item hands on to the one that takes its place."""

from collections.abc import Mapping

from inventory.replenishment import demand
from inventory.replenishment.facts import Facts
from inventory.replenishment.outlook import ReorderForecast
from inventory.replenishment.rules import Rules


def outlooks(facts: Facts, rules: Rules) -> dict[int, ReorderForecast]:
    """The outlook of every item of the facts."""
    today = facts.day.toordinal()
    stretches = -(-rules.horizon_days // demand.FOUR_WEEKS)

    def past_of(used: Mapping[int, int], since: int | None) -> demand.Demand:
        asked = {"today": today, "window": rules.window_days, "known_since": since}
        found = demand.summary(used, **asked)  # type: ignore[arg-type]
        factors = demand.season(used, stretches=stretches, **asked) if found.used else ()  # type: ignore[arg-type]
        return found if not factors else demand.with_season(found, factors)

    found = {
        pk: ReorderForecast(known, facts.day, rules, facts.took, past_of(known.used, known.known_since))
        for pk, known in facts.of.items()
    }
    for each in found.values():
        if each.item.replaced_by_id and not each.item.no_longer_bought:
            each.other = found.get(each.item.replaced_by_id)
    for old in list(found.values()):
        new = found.get(old.item.replaced_by_id or 0)
        if new is None or not old.item.no_longer_bought or old.runs_out is None:
            continue
        together = dict(new.known.used)
        for day, quantity in old.known.used.items():
            together[day] = together.get(day, 0) + quantity
        since = [each for each in (old.known.known_since, new.known.known_since) if each is not None]
        both = past_of(together, min(since) if since else None)
        if both.rate > new.past.rate:
            new.then = (max(old.runs_out, 1), both)
    return found
