"""Every page of the studio: the address of an example in the filled studio, and who may do what there.

The table is written out by hand, so that an address nobody thought about fails a test.
"""

from collections.abc import Callable
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from django.urls import URLPattern, get_resolver, reverse

from inventory.models import LabelLayout, Reason

ALL = frozenset({"owner", "maker", "costly", "bookkeeper"})
MAKE = frozenset({"owner", "maker", "costly"})
COSTS = frozenset({"owner", "costly", "bookkeeper"})
BOOKS = frozenset({"owner", "bookkeeper"})
OWNER = frozenset({"owner"})
NOBODY: frozenset[str] = frozenset()


def none(house: SimpleNamespace) -> list[Any]:
    """An address that names nothing in particular."""
    return []


@dataclass(frozen=True)
class Page:
    """Who may look at it and who may act there; how its example's address is put together; whether it exports."""

    see: frozenset[str]
    do: frozenset[str] = NOBODY
    args: Callable[[SimpleNamespace], list[Any]] = none
    query: str = ""
    table: bool = False

    def url(self, name: str, house: SimpleNamespace) -> str:
        return reverse(name, args=self.args(house)) + self.query


def lot(house: SimpleNamespace) -> list[Any]:
    return [house.shelf["wax"].code]


def candle(house: SimpleNamespace) -> list[Any]:
    return [house.cured.code]


def finished(house: SimpleNamespace) -> list[Any]:
    return [house.finished.code]


def started(house: SimpleNamespace) -> list[Any]:
    return [house.started.code]


def draft(house: SimpleNamespace) -> list[Any]:
    return [house.draft.formula_id, house.draft.number]


def formula(house: SimpleNamespace) -> list[Any]:
    return [house.candle.formula_id]


def item(house: SimpleNamespace) -> list[Any]:
    return [house.shelf["wax"].item_id]


def supplier(house: SimpleNamespace) -> list[Any]:
    return [house.shelf["wax"].supplier_id]


PUBLIC = {"health": {"GET"}, "welcome": {"GET", "POST"}, "sign-in": {"GET", "POST"}, "sign-out": {"POST"}}

PAGES = {
    "today": Page(ALL),
    "search": Page(ALL, query="?q=wax"),
    "account": Page(ALL, ALL),
    "settings": Page(OWNER, OWNER),
    "people": Page(OWNER),
    "person-add": Page(OWNER, OWNER),
    "person-change": Page(OWNER, OWNER, lambda house: [house.people.maker.pk]),
    "inventory:item-list": Page(ALL, table=True),
    "inventory:item-add": Page(MAKE, MAKE),
    "inventory:item-detail": Page(ALL, args=item, table=True),
    "inventory:item-change": Page(MAKE, MAKE, item),
    "inventory:supplier-list": Page(ALL, table=True),
    "inventory:supplier-add": Page(MAKE, MAKE),
    "inventory:supplier-detail": Page(ALL, args=supplier),
    "inventory:supplier-change": Page(MAKE, MAKE, supplier),
    "inventory:delivery-list": Page(ALL, table=True),
    "inventory:delivery-add": Page(MAKE, MAKE),
    "inventory:delivery-detail": Page(ALL, args=lambda house: [house.delivery.pk]),
    "inventory:late-cost-add": Page(COSTS, COSTS, lambda house: [house.delivery.pk]),
    "inventory:period-cost-list": Page(COSTS, table=True),
    "inventory:delivery-labels": Page(ALL, args=lambda house: [house.delivery.pk]),
    "inventory:lot-labels": Page(ALL, args=lot),
    "inventory:label-layout-list": Page(OWNER),
    "inventory:label-layout-add": Page(OWNER, OWNER),
    "inventory:label-layout-change": Page(
        OWNER, OWNER, lambda house: [LabelLayout.objects.earliest("pk").pk]
    ),
    "inventory:lot-list": Page(ALL, table=True),
    "inventory:lot-detail": Page(ALL, args=lot),
    "inventory:lot-change": Page(MAKE, MAKE, lot),
    "inventory:lot-hold": Page(MAKE, MAKE, lot),
    "inventory:lot-allow": Page(OWNER, OWNER, lambda house: [house.held.code]),
    "inventory:lot-disallow": Page(OWNER, OWNER, lambda house: [house.allowed.code]),
    "inventory:lot-release": Page(MAKE, MAKE, lambda house: [house.held.code]),
    "inventory:lot-decant": Page(MAKE, MAKE, lot),
    "inventory:lot-take-out": Page(MAKE, MAKE, lot),
    "inventory:lot-put-right": Page(MAKE, MAKE, lot),
    "inventory:reason-list": Page(OWNER),
    "inventory:reason-add": Page(OWNER, OWNER),
    "inventory:reason-change": Page(OWNER, OWNER, lambda house: [Reason.objects.earliest("pk").pk]),
    "inventory:lot-send": Page(MAKE, MAKE, candle),
    "inventory:posting-list": Page(ALL, table=True),
    "inventory:posting-detail": Page(ALL, args=lambda house: [house.revaluation.pk]),
    "inventory:posting-reverse": Page(MAKE, MAKE, lambda house: [house.dispatch.posting_id]),
    "inventory:posting-review": Page(NOBODY, MAKE, lambda house: [house.found.pk]),
    "batches:batch-list": Page(ALL, table=True),
    "batches:batch-plan": Page(MAKE, MAKE),
    "batches:batch-detail": Page(ALL, args=finished),
    "batches:batch-ticket": Page(ALL, args=finished),
    "batches:batch-draw": Page(MAKE, MAKE, started),
    "batches:draw-correct": Page(MAKE, MAKE, lambda house: [house.finished.code, house.draws["wax"].pk]),
    "batches:batch-read": Page(NOBODY, MAKE, started),
    "batches:batch-labour": Page(NOBODY, MAKE, started),
    "batches:batch-finish": Page(MAKE, MAKE, started),
    "batches:batch-reopen": Page(MAKE, MAKE, finished),
    "batches:batch-call-off": Page(MAKE, MAKE, lambda house: [house.planned.code]),
    "batches:formula-list": Page(ALL, table=True),
    "batches:formula-add": Page(MAKE, MAKE),
    "batches:formula-detail": Page(ALL, args=formula),
    "batches:version-add": Page(MAKE, MAKE, formula),
    "batches:version-detail": Page(ALL, args=draft),
    "batches:version-change": Page(MAKE, MAKE, draft),
    "batches:version-state": Page(NOBODY, MAKE, draft),
    "batches:trace": Page(ALL),
    "batches:trace-code": Page(ALL, args=candle),
    "costing:overview": Page(COSTS, table=True),
    "costing:rates": Page(COSTS, table=True),
    "costing:labour-rate-add": Page(NOBODY, BOOKS),
    "costing:overhead-rate-add": Page(NOBODY, BOOKS),
}


def names_in_use() -> set[str]:
    """The names of every address the studio answers, read from its own table."""
    return set(_walk(get_resolver().url_patterns, ""))


def _walk(patterns: list[Any], space: str) -> list[str]:
    found = []
    for pattern in patterns:
        if isinstance(pattern, URLPattern):
            assert pattern.name, f"{pattern.pattern} has no name"
            found.append(f"{space}{pattern.name}")
        else:
            inner = f"{pattern.namespace}:" if pattern.namespace else ""
            found += _walk(pattern.url_patterns, space + inner)
    return found


def readable(house: SimpleNamespace, role: str) -> dict[str, str]:
    """Every page this role may look at, further examples among them: what it is, and its address."""
    urls = {name: page.url(name, house) for name, page in PAGES.items() if role in page.see}
    for batch in ("fresh", "blend", "started", "overdue", "planned", "called_off"):
        urls[f"batch {batch}"] = reverse("batches:batch-detail", args=[getattr(house, batch).code])
    for code in ("held", "expired", "expiring", "jar", "cured", "curing", "seconds", "blended"):
        urls[f"lot {code}"] = reverse("inventory:lot-detail", args=[getattr(house, code).code])
    for posting in ("found", "reversal"):
        urls[f"posting {posting}"] = reverse("inventory:posting-detail", args=[getattr(house, posting).pk])
    urls["receipt"] = reverse("inventory:posting-detail", args=[house.delivery.posting_id])
    urls["dispatch"] = reverse("inventory:posting-detail", args=[house.dispatch.posting_id])
    urls["trace of wax"] = reverse("batches:trace-code", args=[house.shelf["wax"].code])
    urls["trace of a batch"] = reverse("batches:trace-code", args=[house.finished.code])
    if role in MAKE:
        plan = reverse("batches:batch-plan")
        urls["plan shown"] = f"{plan}?formula={house.rain.pk}&quantity=6"
        urls["plan begun"] = f"{plan}?formula={house.candle.pk}"
    return urls


def tables(house: SimpleNamespace, role: str) -> dict[str, str]:
    """Every page that leaves as a table, by its address without the format."""
    return {name: page.url(name, house) for name, page in PAGES.items() if page.table and role in page.see}
