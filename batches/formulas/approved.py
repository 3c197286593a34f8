"""Which designs were never approved: products for price lists and sales, and lots for whoever sends them.

A product counts by the version it would be made by now, a lot by the version it was poured from. Which version a product is
made by is asked here as well, so that what is planned, listed and called approved is one and the same.
"""

from collections.abc import Collection, Iterable
from datetime import datetime

from django.db.models import Case, F, OuterRef, Q, QuerySet, Subquery, Value, When

from batches.models import FormulaVersion, Outcome, StateChange
from inventory.lots.family import poured_into
from inventory.models import Kind, Lot

Approved, Retired = FormulaVersion.State.APPROVED, FormulaVersion.State.RETIRED


def _before(version: str) -> Subquery:
    """The state before the present one, of the version that a column names; the same rule as `was_approved`."""
    changes = StateChange.objects.filter(version=OuterRef(version)).order_by("-at", "-pk")
    return Subquery(changes.values("state")[1:2])


def _counts(state: str, before: str | None) -> bool:
    return state == Approved or (state == Retired and before == Approved)


def made_first(versions: QuerySet[FormulaVersion]) -> QuerySet[FormulaVersion]:
    """Of some versions those that may be made, the one a product is made by now before its others.

    That is the latest approved, else the latest at trial, of formulas in use.
    """
    in_use = versions.filter(formula__retired=False).exclude(state=Retired)
    approved_first = Case(When(state=Approved, then=Value(0)), default=Value(1))
    return in_use.order_by(approved_first, "-written_at", "-number", "-pk")


def made_of(versions: Iterable[FormulaVersion]) -> FormulaVersion | None:
    """The one of these that is made before the others, by the rule of `made_first`; None where all are retired. No query.

    Numbers count within a formula alone, so the day that a version was written decides between formulas. Whether the
    formulas are in use is for the caller to ask.
    """
    makeable = (version for version in versions if version.state != Retired)
    return max(makeable, key=_precedence, default=None)


def _precedence(version: FormulaVersion) -> tuple[bool, datetime, int, int]:
    return version.state == Approved, version.written_at, version.number, version.pk


def made_now(versions: QuerySet[FormulaVersion]) -> dict[int, FormulaVersion]:
    """The version that each product or blend of these versions is made by now, by item; with its formula and item."""
    found: dict[int, FormulaVersion] = {}
    for version in made_first(versions).select_related("formula__item"):
        found.setdefault(version.formula.item_id, version)
    return found


def never_approved(item_ids: Collection[int] | None = None) -> set[int]:
    """Of these products, or of all, those whose design was never approved, by key; two queries at most.

    That is asked of the version the product is made by now: an earlier one, retired since, says nothing of it. Where
    nothing would be made any more, what was approved until it was retired counts. What has no formula is not made here
    and has no design.
    """
    versions = _of_products(item_ids)
    now: dict[int, bool] = {}
    for item_id, state in made_first(versions).values_list("formula__item", "state"):
        now.setdefault(item_id, state == Approved)
    return {item_id for item_id, is_approved in now.items() if not is_approved} | (
        _never_any(item_ids) - now.keys()
    )


def _of_products(item_ids: Collection[int] | None) -> QuerySet[FormulaVersion]:
    versions = FormulaVersion.objects.filter(formula__item__kind=Kind.FINISHED)
    return versions if item_ids is None else versions.filter(formula__item__in=item_ids)


def _never_any(item_ids: Collection[int] | None) -> set[int]:
    """Products of which no version is approved, or was until it was retired."""
    rows = _of_products(item_ids).annotate(before=_before("pk"))
    approved: dict[int, bool] = {}
    for item_id, state, before in rows.order_by().values_list("formula__item", "state", "before"):
        approved[item_id] = approved.get(item_id, False) or _counts(state, before)
    return {item_id for item_id, is_approved in approved.items() if not is_approved}


def lots_never_approved(lot_ids: Collection[int]) -> set[int]:
    """Of these lots of finished goods, those poured from a version that was never approved, by key.

    What came back is of the design it was sent as, and what was decanted of that of the lots it was poured from: one that
    was never approved is enough. A lot of no batch may be of any version of its product: one that was approved is enough.
    Two queries more for every time that something was poured on, or came back and was sent again, whatever the number of
    lots.
    """
    found: set[int] = set()
    # By lot that is looked at, the lots asked about that came of it.
    asked = {lot_id: {lot_id} for lot_id in lot_ids}
    left: set[int] = set()
    while asked:
        poured = _poured(asked)
        for lot_id, is_approved in poured.items():
            found |= set() if is_approved else asked[lot_id]
        rest = asked.keys() - poured.keys()
        steps = poured_into(rest)
        left |= {lot_id for key in rest - {step.child for step in steps} for lot_id in asked[key]}
        earlier: dict[int, set[int]] = {}
        for step in steps:
            earlier.setdefault(step.parent, set()).update(asked[step.child])
        asked = earlier
    return found | _by_product(left)


def _poured(lot_ids: Collection[int]) -> dict[int, bool]:
    """Whether the version was approved that each of these lots was poured from; lots of no batch are left out."""
    outcomes: QuerySet[Outcome] = Outcome.objects.filter(Q(lot__in=lot_ids))
    rows = outcomes.annotate(state=F("batch__version__state"), before=_before("batch__version"))
    return {
        lot_id: _counts(state, before)
        for lot_id, state, before in rows.order_by().values_list("lot", "state", "before")
    }


def _by_product(lot_ids: Collection[int]) -> set[int]:
    if not lot_ids:
        return set()
    items = dict(Lot.objects.filter(pk__in=lot_ids).values_list("pk", "item"))
    never = _never_any(set(items.values()))
    return {lot_id for lot_id, item_id in items.items() if item_id in never}
