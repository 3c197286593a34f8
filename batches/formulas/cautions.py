"""The usual cautions, where they matter. They inform; local codes and a competent person decide."""

from collections.abc import Iterable, Sequence

from batches.formulas.loads import Inside, loads, unknown_in, worst_of_pours
from batches.formulas.sheet import Sheet
from batches.lineage.composition import on_shelf
from batches.models import FormulaLine, FormulaVersion
from inventory.models import Kind
from studio.core.percent import WHOLE, format_percent
from studio.core.temperatures import Scale, format_temperature

ALWAYS = (
    "Hot wax burns and catches fire: never leave it unattended, keep it away from open flame, have a lid and a "
    "fire extinguisher or blanket at hand. Never put water on burning wax.",
    "Ventilate the room; wear gloves and eye protection when handling fragrance and hot wax.",
    "Put the warning label on every unit, in sight and uncovered.",
)
UNTESTED = "This version is not approved: burn-test it as it is, at this load and fill, before any is sold."

# Where a maximum is published. Common practice, no source.
SOURCE: dict[str, str] = {
    Kind.WAX: "the supplier's data sheet",
    Kind.FRAGRANCE: "its IFRA certificate, category 12",
}
# What holds of one step of the work, short enough to stand beside its figures at the bench.
MELTING = (
    "Hot wax burns and catches fire: stay with it, keep flames away, a lid and a fire extinguisher at hand. "
    "Never put water on burning wax."
)
ADDING = "Ventilate; wear gloves and eye protection."
POURING = "Hot wax: wear gloves and eye protection; never leave it unattended."
FINISHING = (
    "Finishing with a heat gun, torch or hot glass: clear paper, cloth, solvent and fragrance away first, wear gloves "
    "and eye protection, warm glass evenly and never a cracked vessel, and stay until everything has cooled."
)


def cautions(
    version: FormulaVersion, sheet: Sheet | None, *, unit: Scale = "C", inside: Inside | None = None
) -> list[str]:
    """Sentences for a formula version, the particular ones first, then those that always hold.

    `inside` says what is in the melt that is taken, by line; left out, what the shelf would give.
    Flash point from the supplier's safety data sheet, section 9. Maximum loads are compared on their own basis.
    """
    lines = list(version.lines.all())
    inside = on_shelf(lines) if inside is None else inside
    found = [*_flash_points(version, lines, unit), *_loads(lines, sheet, inside), *_carried(lines, inside)]
    if version.state != FormulaVersion.State.APPROVED and version.fill_ug is not None:
        found.append(UNTESTED)
    if has_hand_finishing(version):
        found.append(FINISHING)
    return [*found, *ALWAYS]


def has_hand_finishing(version: FormulaVersion) -> bool:
    """Whether the process has hand finishing: its rest is the hours before it."""
    return bool(version.rest_hours)


def at_step(
    version: FormulaVersion, sheet: Sheet | None, *, unit: Scale = "C", inside: Inside | None = None
) -> dict[str, list[str]]:
    """The cautions of each step at the bench: "melt", "fragrance", "pour", "finish", and "line:KEY" for a fragrance.

    Beside a fragrance stands its flash point, whatever the temperature it is added at; with the step of adding any and
    with the pour stand the maxima that the load is above.
    """
    lines = list(version.lines.all())
    scents = [line for line in lines if line.item.kind == Kind.FRAGRANCE]
    over = _loads(lines, sheet, on_shelf(lines) if inside is None else inside)
    flash = {line.pk: _flash_point(version, line, unit) for line in scents}
    return {
        "melt": [MELTING],
        "fragrance": [*flash.values(), *over, ADDING],
        "pour": [*over, POURING],
        "finish": [FINISHING],
        **{f"line:{key}": [sentence, *over, ADDING] for key, sentence in flash.items()},
    }


def _flash_point(version: FormulaVersion, line: FormulaLine, unit: Scale) -> str:
    """What is to be known of a fragrance's flash point where it is added; the sharper sentence where it is reached."""
    if sharper := _flash_points(version, [line], unit):
        return sharper[0]
    flash = line.item.flash_point_mc or 0  # without one there is a sharper sentence already
    return f"{line.item}: flash point {format_temperature(flash, unit)}. Keep flames away."


def particular(
    version: FormulaVersion, sheet: Sheet | None, *, unit: Scale = "C", inside: Inside | None = None
) -> list[str]:
    """Only the cautions that speak of this version."""
    found = cautions(version, sheet, unit=unit, inside=inside)
    return [sentence for sentence in found if sentence not in ALWAYS]


def _flash_points(version: FormulaVersion, lines: Iterable[FormulaLine], unit: Scale) -> list[str]:
    found = []
    for line in lines:
        if line.item.kind != Kind.FRAGRANCE:
            continue
        flash, added_at = line.item.flash_point_mc, version.fragrance_at_mc
        if flash is None:
            found.append(
                f"No flash point is on record for {line.item}: see its safety data sheet, section 9."
            )
        elif added_at is not None and added_at >= flash:
            found.append(
                f"{line.item} is added at {format_temperature(added_at, unit)}, at or above its flash point of "
                f"{format_temperature(flash, unit)}: its vapour can catch fire. No flame or hot element near the pot."
            )
    return found


def _loads(lines: Iterable[FormulaLine], sheet: Sheet | None, inside: Inside) -> list[str]:
    lines, found, named = list(lines), [], set()
    for load in loads(lines, sheet, inside):
        if load.is_above:
            named.add(load.item.pk)
            found.append(
                f"The load is {load.ratio_words}, above the {load.maximum_words} stated for {load.item} "
                f"({load.words}). Do not pour: lower the load."
            )
        elif load.maximum is None and load.is_asked_for:
            found.append(
                f"No maximum load is on record for {load.item}, so nobody knows whether {load.words} is too much. "
                f"Look it up in {SOURCE[load.item.kind]} and enter it on the item."
            )
    # What the scale makes of it, pot by pot: a coarse scale may carry a small pot over.
    return found + [
        f"As this scale weighs it, the load is {load.ratio_words}, above the {load.maximum_words} stated for "
        f"{load.item}. Do not pour: weigh on a finer scale, or make more at a time."
        for load in worst_of_pours(lines, sheet, inside)
        if load.is_above and load.item.pk not in named
    ]


def _carried(lines: Sequence[FormulaLine], inside: Inside) -> list[str]:
    """What recovered melt brings along that the formula does not name, and what is not known of it."""
    found = []
    own = {line.item_id for line in lines}
    for line in lines:
        portion = inside.get(line.pk)
        if portion is None or portion.whole is not None:
            continue
        scents = [
            f"{format_percent(share * WHOLE)} {item}{'' if item.pk in own else ', which this formula does not name'}"
            for item, share in portion.scents.items()
        ]
        if scents:
            found.append(
                f"{line.item} holds fragrance already: {'; '.join(scents)}. It counts in the load and against every "
                "maximum, and its allergens belong on the label."
            )
    if unknown := unknown_in(lines, inside):
        found.append(f"The fragrance load is not known. {unknown} Burn-test it before any is sold.")
    return found
