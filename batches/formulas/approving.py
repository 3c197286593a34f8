"""How far a version has got: what is asked before it is approved, and the record of every change of its state.

Asked for is a passed burn test that covers the version (see `covering`), and a fragrance load within what the wax and the
fragrance each publish. Where something is wanting only the owner may approve, and what was wanting stays on record.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

from django.db import transaction
from django.db.models import Max
from django.urls import reverse

from batches.burn_tests.record import record_of, with_readings
from batches.burn_tests.verdict import owners_word_of
from batches.formulas.covering import coverage
from batches.formulas.loads import Load, load_words, loads, unknown_in
from batches.formulas.sheet import Sheet, batch_sheet
from batches.lineage.composition import on_shelf
from batches.models import BurnTest, FormulaLine, FormulaVersion, StateChange
from inventory.models import Kind
from studio.core.quantities import format_quantity
from studio.models import Role
from studio.people.signature import Signature

MISSING_AT_MOST = 500
State = FormulaVersion.State


class StateError(Exception):
    """The state cannot be changed so. Its text is a sentence for a person."""


class NotReady(StateError):
    """Something that is asked for is wanting, and the person is not the owner."""


class Answer(StrEnum):
    """What became of a condition."""

    MET = "Met"
    NOT_MET = "Not met"
    NOT_KNOWN = "Not known"


@dataclass(frozen=True)
class Condition:
    """One thing that is asked for. `lacking` says for the record what is wanting, and is empty when it is met.

    `differences`: in what the version differs from the burn test that comes nearest, each with both figures.
    """

    asked: str
    answer: Answer
    found: str
    lacking: str = ""
    url: str = ""
    link: str = ""
    burn_test: BurnTest | None = None
    differences: tuple[str, ...] = ()

    @property
    def tone(self) -> str:
        """The mark beside the answer."""
        return {Answer.MET: "good", Answer.NOT_MET: "problem"}.get(self.answer, "attention")


BURNED = "A passed burn test of this wax, wick, vessel, fragrance, dye and additives, at this load and fill"
NONE_BURNED = "no burn test of this combination was passed"


def conditions(version: FormulaVersion) -> list[Condition]:
    """Everything that is asked for before a version is approved, and what is found. Reads its lines with their items."""
    lines = list(version.lines.all())
    sheet = batch_sheet(version.recipe(), 12 if version.fill_ug else 1_000_000_000)
    return [*_spoken_against(version), _burned(version, lines, sheet), *_within(version, lines, sheet)]


def _spoken_against(version: FormulaVersion) -> list[Condition]:
    """The tests of the version itself that speak against it, the latest first: failed with none passed since, or still
    burning and beyond a limit already."""
    own = version.burn_tests.all()
    passed = own.passed().aggregate(at=Max("decided_at"))["at"]
    failed = own.filter(state=BurnTest.State.FAILED)
    if passed:
        failed = failed.filter(decided_at__gt=passed)
    burning = with_readings(own.filter(state=BurnTest.State.RUNNING))
    said = [(test, f"{test} failed: {test.verdict}") for test in failed]
    for test in burning:
        beyond = record_of(test).judgement.beyond
        said += [(test, f"{test} is still burning, beyond its limits: {' '.join(beyond)}")] if beyond else []
    return [
        Condition(
            "No burn test of this version that speaks against it",
            Answer.NOT_MET,
            f"{words[0].upper()}{words[1:]}",
            words,
            test.get_absolute_url(),
            "The burn test",
        )
        for test, words in said
    ]


def _burned(version: FormulaVersion, lines: Sequence[FormulaLine], sheet: Sheet) -> Condition:
    if version.fill_ug is None:
        return Condition(
            BURNED, Answer.MET, "A blend is not burned by itself. The candle that is made of it is tested."
        )
    found = coverage(version)
    if found.test is None:
        return _never_burned(version, lines)
    tested = found.test.version
    url, link = found.test.get_absolute_url(), "The burn test"
    if found.differences:
        said = f"The nearest is {found.test} of {tested}, and this version differs from it. {found.basis}"
        lacking = f"{found.test} does not cover it: {', and '.join(found.differences)}"
        return Condition(BURNED, Answer.NOT_KNOWN, said, lacking, url, link, differences=found.differences)
    if found.verdict and not found.verdict.speaks:
        return Condition(
            BURNED,
            Answer.NOT_MET,
            f"{found.test} of {tested} passed, but does not speak for it. {found.verdict.lacking}",
            f"{found.test} was passed without all that its limits ask for: {found.verdict.lacking}",
            url,
            link,
        )
    said = f"Passed: {found.test} of {tested}."
    if found.verdict:
        said += f" Burned {found.verdict.hours}."
    said += f" {found.basis}"
    if found.verdict:
        word, struck = found.verdict.owners_word, found.verdict.struck
        # Where the owner accepted just that, it stands in what was lacking.
        said += "".join(f" {words}" for words in (word, "" if struck in word else struck) if words)
    if tested.pk != version.pk:
        said += _within_what_was_burned(version, tested, sheet)
    return Condition(BURNED, Answer.MET, said, url=url, link=link, burn_test=found.test)


def _never_burned(version: FormulaVersion, lines: Sequence[FormulaLine]) -> Condition:
    none = "None is on record."
    if not any(line.item.kind == Kind.WICK for line in lines):
        none += " The formula names no wick."
    url = reverse("batches:burn-start", args=[version.formula_id, version.number])
    return Condition(BURNED, Answer.NOT_MET, none, NONE_BURNED, url, "Start a burn test")


def _within_what_was_burned(version: FormulaVersion, tested: FormulaVersion, sheet: Sheet) -> str:
    """What another version's test was burned at, where it is not quite the same, as sentences."""
    said = ""
    lines, burned = list(version.lines.all()), list(tested.lines.all())
    burned_at = load_words(burned, batch_sheet(tested.recipe(), 12), on_shelf(burned))
    ours = load_words(lines, sheet, on_shelf(lines))
    if burned_at != ours:
        said += f" It was burned at {burned_at or 'no fragrance'}; this version has {ours or 'none'}."
    if tested.fill_ug != version.fill_ug and tested.fill_ug and version.fill_ug:
        fills = [format_quantity(fill, "g") for fill in (tested.fill_ug, version.fill_ug)]
        said += f" It was filled with {fills[0]}; this version has {fills[1]}, within the studio's tolerance."
    return said


def _within(version: FormulaVersion, lines: Sequence[FormulaLine], sheet: Sheet) -> list[Condition]:
    inside = on_shelf(lines)
    judged = [load for load in loads(lines, sheet, inside) if load.is_asked_for]
    if unknown := unknown_in(lines, inside):
        above = [_load(load) for load in judged if load.is_above]
        return [*above, _not_known(unknown)]
    if judged:
        return [_load(load) for load in judged]
    found = (
        "It is made of fragrance alone; the load is judged in the candle it goes into."
        if sheet.fragrance
        else "There is no fragrance in it."
    )
    return [Condition("A fragrance load within what is published", Answer.MET, found)]


def _not_known(unknown: str) -> Condition:
    """The load of a formula that takes melt of which nobody knows what is in it."""
    return Condition(
        "A fragrance load within what is published",
        Answer.NOT_KNOWN,
        f"The load is not known. {unknown} Recover melt into its item from a batch, so that the record knows.",
        "the fragrance load is not known",
    )


def _load(load: Load) -> Condition:
    item = load.item
    holds = "holds" if item.kind == Kind.WAX else "allows"
    asked = f"A load within what {item} {holds}"
    if load.maximum is None:
        return Condition(
            asked,
            Answer.NOT_KNOWN,
            f"{load.words}. No maximum is on record for {item}.",
            f"no maximum load is on record for {item}",
            reverse("inventory:item-change", args=[item.pk]),
            "Enter it",
        )
    found = f"{load.words}, at most {load.maximum_words}."
    url, link = item.get_absolute_url(), "The item"
    if load.is_above:
        lacking = f"a load of {load.ratio_words} is above the {load.maximum_words} stated for {item}"
        return Condition(asked, Answer.NOT_MET, found, lacking, url, link)
    return Condition(asked, Answer.MET, found, url=url, link=link)


def missing(found: Iterable[Condition]) -> str:
    """What is wanting, in words, for the record; empty when everything is met."""
    words = "; ".join(each.lacking for each in found if each.lacking)
    return words if len(words) <= MISSING_AT_MOST else f"{words[: MISSING_AT_MOST - 1]}…"


def _locked(version_id: int) -> FormulaVersion:
    return (
        FormulaVersion.objects.select_for_update(of=("self",))
        .select_related("formula")
        .prefetch_related("lines__item")
        .get(pk=version_id)
    )


def _change(version: FormulaVersion, state: str, signature: Signature, **more: object) -> StateChange:
    if version.state == state:
        raise StateError(f"{version} is {State(state).label.lower()} already.")
    if not signature.reason:
        raise StateError("Say in a few words why.")
    version.state = state
    version.save(update_fields=["state"])
    return StateChange.objects.create(
        version=version,
        state=state,
        reason=signature.reason,
        by=signature.by,
        at=signature.happened_at,
        **more,
    )


@transaction.atomic
def approve(version_id: int, *, signature: Signature, shown: str | None = None) -> StateChange:
    """Approve a version, for the reason the signature gives; where something is wanting, on the owner's word.

    `shown` is what the page said was wanting: when something else is by now, nothing is approved unseen.
    Raises StateError, NotReady.
    """
    version = _locked(version_id)
    found = conditions(version)
    lacking = missing(found)
    if lacking and signature.by.role != Role.OWNER:
        raise NotReady(f"Only the owner may approve this, for it lacks something: {lacking}.")
    if shown is not None and shown != lacking:
        raise StateError("What is asked for changed meanwhile. Look at it again, then press again.")
    test = next((each.burn_test for each in found if each.burn_test), None)
    return _change(version, State.APPROVED, signature, burn_test=test, missing=lacking)


@transaction.atomic
def change_state(version_id: int, state: str, *, signature: Signature) -> StateChange:
    """Retire a version or put it back to trial, for the reason the signature gives. Raises StateError."""
    if state not in (State.TRIAL, State.RETIRED):
        raise StateError("Choose trial or retired.")
    return _change(_locked(version_id), state, signature)


def words_of(versions: Iterable[FormulaVersion]) -> dict[int, str]:
    """By version, in words, on whose word it was approved although something was wanting, or its burn test passed
    although it did not speak for a pass. One query.

    A version back at trial, and one approved properly since, has none.
    """
    latest: dict[int, str] = {}
    wanted = [version.pk for version in versions]
    changes = StateChange.objects.filter(version__in=wanted, state=State.APPROVED).select_related(
        "by", "burn_test__decided_by"
    )
    changes = changes.exclude(version__state=State.TRIAL)
    for change in changes.order_by("at", "pk"):
        words = (
            f"Approved by {change.by} although {change.missing}: {change.reason}" if change.missing else ""
        )
        tested = owners_word_of(change.burn_test) if change.burn_test else ""
        latest[change.version_id] = ". ".join(filter(None, (words.rstrip(".") if tested else words, tested)))
    return {pk: words for pk, words in latest.items() if words}


def owners_word(version: FormulaVersion) -> str:
    """The same for one version; empty when there is nothing to say."""
    return words_of([version]).get(version.pk, "")
