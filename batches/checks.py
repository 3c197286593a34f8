"""What `manage.py check_books` proves about batches: draws, yields, costs passed on and needs committed."""

from collections.abc import Iterable, Iterator

from django.db.models import Exists, F, OuterRef, Q, Sum

from batches.formulas.sheet import batch_sheet
from batches.models import (
    Batch,
    BatchEnd,
    BenchEntry,
    BurnReading,
    BurnTest,
    Draw,
    FormulaVersion,
    Outcome,
    StateChange,
    VersionCorrection,
)
from batches.recalls import checks as recall_checks
from batches.recipe import check_recipe
from inventory.models import Commitment, Movement, Posting
from inventory.sales_orders.customer_orders import CUSTOMER_ORDER_PREFIX
from studio.core.codes import is_valid

# A batch of which something came out is over, given up, or finished in part.
WITH_YIELDS = (Batch.State.FINISHED, Batch.State.ABANDONED, Batch.State.STARTED)


def draws_fit() -> Iterator[str]:
    """Every draw took a lot of its line's item, for a line of its batch's formula, and every drawn movement has one.

    What was used before these books went into no batch of theirs.
    """
    for pk in Draw.objects.exclude(movement__lot__item=F("line__item")).values_list("pk", flat=True):
        yield f"Draw {pk} took a lot of another item than its line names."
    # What was drawn before a version was corrected stays with the line it was drawn for.
    was = VersionCorrection.objects.filter(batch=OuterRef("batch"), before=OuterRef("line__version"))
    lost = Draw.objects.exclude(line__version=F("batch__version")).exclude(Exists(was))
    for pk in lost.values_list("pk", flat=True):
        yield f"Draw {pk} is for a line that is not in its batch's formula."
    loose = Movement.objects.filter(
        kind=Movement.Kind.DRAWN, draw__isnull=True, posting__reverses__isnull=True
    ).exclude(posting__kind=Posting.Kind.EARLIER)
    for pk in loose.values_list("pk", flat=True):
        yield f"Movement {pk} was drawn into no batch."


def yields_fit() -> Iterator[str]:
    """Every yield became a lot of the batch's product in the quantity it says, and every made lot has a yield."""
    of_yield = Q(lot__movements__posting=F("posting"))
    made = Outcome.objects.exclude(lot=None).annotate(moved=Sum("lot__movements__quantity", filter=of_yield))
    product = Q(lot__item=F("batch__version__formula__item"), result__in=("good", "second"))
    # Output that was taken back before the product was corrected is of what it was then.
    was = VersionCorrection.objects.filter(
        batch=OuterRef("batch"), before__formula__item=OuterRef("lot__item")
    )
    product |= Q(Exists(was), result__in=("good", "second"), posting__reversal__isnull=False)
    melt = Q(lot__item__made_here=True, result="melt")
    wrong = made.exclude(Q(moved=F("quantity")) & (product | melt))
    for code in wrong.order_by("pk").values_list("batch__code", flat=True).iterator():
        yield f"Batch {code}: a yield and the lot it became do not agree."
    same = Q(emptied__posting=F("posting"), emptied__result="rework")
    strange = Outcome.objects.exclude(emptied=None).exclude(same)
    for code in strange.order_by("pk").values_list("batch__code", flat=True).iterator():
        yield f"Batch {code}: melt is said to be of units to remelt that came out at another time."
    given = Outcome.objects.annotate(flawed=Sum("flaws__quantity")).filter(flawed__isnull=False)
    for code in given.exclude(Q(result="second") & Q(flawed__lte=F("quantity"))).values_list(
        "batch__code", flat=True
    ):
        yield f"Batch {code}: defects are given for more seconds than came out."
    loose = Movement.objects.filter(
        kind=Movement.Kind.MADE, posting__reverses__isnull=True, lot__outcome__isnull=True
    )
    for code in loose.values_list("lot__code", flat=True):
        yield f"Lot {code} was made by no batch."


def costs_passed_on() -> Iterator[str]:
    """What a finished batch drew is what its lots, and the periods of those that left, were given."""
    drawn = _sums(
        Draw.objects.standing().order_by().values_list("batch").annotate(total=Sum("movement__value"))
    )
    # By the line that begins each lot: several may name it, of which one at the most stands.
    lots = Outcome.objects.exclude(begins=None).order_by()
    own = Q(begins__movements__kind__in=(Movement.Kind.MADE, Movement.Kind.REVALUED))
    given = _sums(lots.values_list("batch").annotate(total=Sum("begins__movements__value", filter=own)))
    periods = _sums(lots.values_list("batch").annotate(total=Sum("begins__period_costs__value")))
    came = set(Outcome.objects.standing().values_list("batch", flat=True))
    units = Outcome.objects.standing().order_by().filter(result__in=("good", "second"))
    bearing = set(units.values_list("batch", flat=True))
    for pk, code, state in Batch.objects.order_by("pk").values_list("pk", "code", "state").iterator():
        if not is_valid(code):
            yield f"Batch {code} has a code whose check character is wrong."
        over = state == Batch.State.FINISHED
        if (over and pk not in came) or (pk in came and state not in WITH_YIELDS):
            yield f"Batch {code} is {state} and its yields say otherwise."
        rest = -drawn.get(pk, 0) - given.get(pk, 0) - periods.get(pk, 0)
        if over and pk in bearing and rest:
            yield f"Batch {code} drew {rest} more than its lots were given."
        elif rest < 0 and state != Batch.State.STARTED:
            yield f"Batch {code} gave its lots {-rest} more than it drew."


def ends_agree() -> Iterator[str]:
    """A batch is over exactly when what is kept of its ends says so, and it was finished when the last one says."""
    ends = dict(BatchEnd.objects.order_by().values_list("batch").annotate(total=Sum("sign")))
    last = dict(BatchEnd.objects.filter(sign=1).order_by("pk").values_list("batch", "happened_at"))
    over = (Batch.State.FINISHED, Batch.State.ABANDONED)
    columns = ("pk", "code", "state", "finished_at")
    for pk, code, state, finished_at in Batch.objects.order_by("pk").values_list(*columns).iterator():
        if ends.get(pk, 0) != int(state in over):
            yield f"Batch {code} is {state}, and what is kept of its ends says otherwise."
        elif finished_at and last.get(pk) != finished_at:
            yield f"Batch {code} was finished at another time than its last end says."


def _sums(rows: Iterable[tuple[int, int | None]]) -> dict[int, int]:
    """Sums by batch, nothing where there is none."""
    return {batch_id: total or 0 for batch_id, total in rows}


def commitments_agree() -> Iterator[str]:
    """Open batches have committed what they still need; others nothing."""
    committed: dict[str, dict[int, int]] = {}
    for source, item_id, quantity in Commitment.objects.values_list("source", "item_id", "quantity"):
        committed.setdefault(source, {})[item_id] = quantity
    for batch in (
        Batch.objects.unfinished().select_related("version").prefetch_related("version__lines__item")
    ):
        drawn: dict[int, int] = {}
        for draw in batch.draws.standing().select_related("movement"):
            drawn[draw.line_id] = drawn.get(draw.line_id, 0) + draw.quantity
        needs: dict[int, int] = {}
        for target in batch_sheet(batch.version.recipe(), batch.quantity).targets:
            left = max(target.total - drawn.get(target.line.key, 0), 0)
            needs[target.line.item_id] = needs.get(target.line.item_id, 0) + left
        if {item: left for item, left in needs.items() if left} != committed.pop(batch.code, {}):
            yield f"Batch {batch.code} needs other quantities than it committed."
    for source in committed:
        if Batch.objects.filter(code=source).exists():
            yield f"Batch {source} is over and still commits stock."
        elif not source.startswith(CUSTOMER_ORDER_PREFIX):
            yield f"Stock is committed to {source}, which is neither a run nor an order."


def recipes_work() -> Iterator[str]:
    """A batch sheet can be worked out from every formula version."""
    for version in (
        FormulaVersion.objects.prefetch_related("lines__item").select_related("formula").order_by("pk")
    ):
        for _, sentence in check_recipe(version.recipe()):
            yield f"{version}: {sentence}"


def states_on_record() -> Iterator[str]:
    """A version's state is the one its last change says, and an approval names a burn test that passed.

    A version of before changes were kept has none, and stands as it is.
    """
    latest: dict[int, str] = dict(
        StateChange.objects.order_by("at", "pk").values_list("version", "state").iterator()
    )
    for version in FormulaVersion.objects.filter(pk__in=StateChange.objects.values("version")).select_related(
        "formula"
    ):
        if version.state != latest[version.pk]:
            yield f"{version} is {version.state}, and its last change made it {latest[version.pk]}."
    wrong = StateChange.objects.exclude(burn_test=None).exclude(burn_test__state=BurnTest.State.PASSED)
    for change in wrong.select_related("version__formula"):
        yield f"{change.version} was approved on burn test {change.burn_test_id}, which did not pass."


def burn_tests_lose_weight() -> Iterator[str]:
    """Of every burned jar the readings that stand get lighter from cycle to cycle."""
    last: dict[int, int] = {}
    readings = BurnReading.objects.filter(struck_at=None, weight_ug__isnull=False)
    columns = ("jar", "jar__start_ug", "weight_ug", "jar__test")
    for jar_id, start, weight, test_id in readings.order_by("jar", "cycle").values_list(*columns).iterator():
        if weight is not None and weight > last.get(jar_id, start):
            yield f"A jar of burn test {test_id} gained weight while it burned."
        last[jar_id] = weight or 0


def bench_weights_fit() -> Iterator[str]:
    """What was weighed at the bench, gross less tare, is what its posting drew; what was taken back is reversed."""
    drawn = Sum("posting__movements__quantity", filter=Q(posting__movements__kind=Movement.Kind.DRAWN))
    weighed = BenchEntry.objects.filter(kind="draw", gross_ug__isnull=False).annotate(drawn=drawn)
    wrong = weighed.exclude(gross_ug=F("tare_ug") - F("drawn"))
    for code in wrong.order_by("pk").values_list("batch__code", flat=True).iterator():
        yield f"Batch {code}: what was weighed at the bench is not what was drawn."
    undone = BenchEntry.objects.filter(takes_back__posting__isnull=False)
    loose = undone.exclude(posting__reverses=F("takes_back__posting"))
    for code in loose.order_by("pk").values_list("batch__code", flat=True).iterator():
        yield f"Batch {code}: what was taken back at the bench still counts."


CHECKS = (
    bench_weights_fit,
    ends_agree,
    draws_fit,
    yields_fit,
    costs_passed_on,
    commitments_agree,
    recipes_work,
    states_on_record,
    burn_tests_lose_weight,
    *recall_checks.CHECKS,
)
