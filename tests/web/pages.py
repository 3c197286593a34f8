"""Every page of the studio: the address of an example in the filled studio, and who may do what there.

The table is written out by hand, so that an address nobody thought about fails a test.
"""

from collections.abc import Callable
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

from django.urls import URLPattern, get_resolver, reverse

from batches.models import Defect
from inventory.models import CountClass, LabelLayout, Reason

ALL = frozenset({"owner", "maker", "costly", "bookkeeper"})
MAKE = frozenset({"owner", "maker", "costly"})
COSTS = frozenset({"owner", "costly", "bookkeeper"})
MAKE_AND_COSTS = MAKE & COSTS
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


def sent_out(house: SimpleNamespace) -> list[Any]:
    return [house.dispatch.pk]


def sent_to(house: SimpleNamespace) -> list[Any]:
    return [house.dispatch.customer_id]


def shop(house: SimpleNamespace) -> list[Any]:
    return [house.shop.pk]


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


def ordered(house: SimpleNamespace) -> list[Any]:
    return [house.wanted.code]


def complaint(house: SimpleNamespace) -> list[Any]:
    return [house.complaint.code]


def drill(house: SimpleNamespace) -> list[Any]:
    return [house.drill.code]


def priced(house: SimpleNamespace) -> list[Any]:
    return [house.cured.item_id]


def thought(house: SimpleNamespace) -> list[Any]:
    return [house.thought.pk]


def selling(house: SimpleNamespace) -> list[Any]:
    return [house.web.pk]


def supplier(house: SimpleNamespace) -> list[Any]:
    return [house.shelf["wax"].supplier_id]


PUBLIC = {"health": {"GET"}, "welcome": {"GET", "POST"}, "sign-in": {"GET", "POST"}, "sign-out": {"POST"}}
PUBLIC["batches:bench-worker"] = {"GET"}

PAGES = {
    "today": Page(ALL),
    "search": Page(ALL, query="?q=wax"),
    "account": Page(ALL, ALL),
    "settings": Page(OWNER, OWNER),
    "label-warning": Page(ALL, OWNER),
    "data-export": Page(OWNER, OWNER),
    "people": Page(OWNER),
    "person-add": Page(OWNER, OWNER),
    "person-change": Page(OWNER, OWNER, lambda house: [house.people.maker.pk]),
    "inventory:item-list": Page(ALL, table=True),
    "inventory:item-add": Page(MAKE, MAKE),
    "inventory:item-detail": Page(ALL, args=item),
    "inventory:item-change": Page(MAKE, MAKE, item),
    "inventory:item-ledger": Page(ALL, args=item, table=True),
    "inventory:item-documents": Page(ALL, args=item, table=True),
    "inventory:document-add": Page(MAKE, MAKE, item),
    "inventory:lot-document-add": Page(MAKE, MAKE, lot),
    "inventory:document-list": Page(ALL, table=True),
    "inventory:document-detail": Page(ALL, args=lambda house: [house.sheet.pk]),
    "inventory:document-file": Page(ALL, args=lambda house: [house.sheet.pk]),
    "inventory:document-change": Page(MAKE, MAKE, lambda house: [house.sheet.pk]),
    "inventory:document-withdraw": Page(NOBODY, MAKE, lambda house: [house.sheet.pk]),
    "inventory:document-put-back": Page(NOBODY, MAKE, lambda house: [house.withdrawn.pk]),
    "inventory:document-erase": Page(OWNER, OWNER, lambda house: [house.sheet.pk]),
    "inventory:reorder-list": Page(ALL, table=True),
    "inventory:item-reorder": Page(ALL, args=item, table=True),
    "inventory:item-reorder-change": Page(MAKE, MAKE, item),
    "inventory:purchase-list": Page(ALL, MAKE, table=True),
    "inventory:reorder-rules": Page(OWNER, OWNER),
    "inventory:slow-list": Page(ALL, table=True),
    "inventory:posting-one-off": Page(MAKE, MAKE, lambda house: [house.draws["wax"].pk]),
    "inventory:supplier-terms": Page(MAKE_AND_COSTS, MAKE_AND_COSTS, supplier),
    "inventory:supplier-list": Page(ALL, table=True),
    "inventory:supplier-add": Page(MAKE, MAKE),
    "inventory:supplier-detail": Page(ALL, args=supplier),
    "inventory:supplier-change": Page(MAKE, MAKE, supplier),
    "inventory:item-prices": Page(COSTS, args=item, table=True),
    "inventory:offer-list": Page(COSTS, table=True),
    "inventory:offer-add": Page(MAKE_AND_COSTS, MAKE_AND_COSTS),
    "inventory:offer-detail": Page(COSTS, args=lambda house: [house.offer.pk]),
    "inventory:offer-withdraw": Page(MAKE_AND_COSTS, MAKE_AND_COSTS, lambda house: [house.offer.pk]),
    "inventory:order-list": Page(ALL, table=True),
    "inventory:order-add": Page(MAKE, MAKE),
    "inventory:order-detail": Page(ALL, args=lambda house: [house.order_part.code], table=True),
    "inventory:order-paper": Page(ALL, args=lambda house: [house.order_draft.code]),
    "inventory:order-change": Page(MAKE, MAKE, lambda house: [house.order_draft.code]),
    "inventory:order-send": Page(MAKE, MAKE, lambda house: [house.order_draft.code]),
    "inventory:order-close": Page(MAKE, MAKE, lambda house: [house.order_part.code]),
    "inventory:order-call-off": Page(MAKE, MAKE, lambda house: [house.order_late.code]),
    "inventory:order-reopen": Page(MAKE, MAKE, lambda house: [house.order_given_up.code]),
    "inventory:customer-order-list": Page(ALL, table=True),
    "inventory:customer-order-add": Page(MAKE, MAKE),
    "inventory:customer-order-detail": Page(ALL, args=ordered),
    "inventory:customer-order-change": Page(MAKE, MAKE, ordered),
    "inventory:customer-order-send": Page(MAKE, MAKE, ordered),
    "inventory:customer-order-call-off": Page(MAKE, MAKE, ordered),
    "inventory:dispatch-list": Page(ALL, table=True),
    "inventory:return-list": Page(ALL, table=True),
    "inventory:dispatch-add": Page(MAKE, MAKE),
    "inventory:dispatch-detail": Page(ALL, args=sent_out),
    "inventory:dispatch-slip": Page(MAKE, args=sent_out),
    "inventory:dispatch-change": Page(MAKE, MAKE, sent_out),
    "inventory:dispatch-return": Page(MAKE, MAKE, sent_out),
    "inventory:customer-list": Page(MAKE, table=True),
    "inventory:customer-retention": Page(OWNER, OWNER),
    "inventory:customer-detail": Page(MAKE, args=sent_to),
    "inventory:customer-change": Page(MAKE, MAKE, sent_to),
    "inventory:customer-erase": Page(OWNER, OWNER, lambda house: [house.unwanted.customer_id]),
    "inventory:shop-list": Page(MAKE),
    "inventory:shop-add": Page(MAKE, MAKE),
    "inventory:shop-detail": Page(MAKE, MAKE, shop, table=True),
    "inventory:shop-change": Page(MAKE, MAKE, shop),
    "inventory:shop-product": Page(MAKE, MAKE, lambda house: [house.shop.pk, house.shop_product.pk]),
    "inventory:shop-file": Page(MAKE, MAKE, lambda house: [house.shop.pk, house.shop_file.pk], table=True),
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
    "inventory:count-list": Page(ALL, table=True),
    "inventory:count-start": Page(MAKE, MAKE),
    "inventory:count-class-list": Page(ALL, table=True),
    "inventory:count-class-change": Page(OWNER, OWNER, lambda house: [CountClass.objects.get(letter="A").pk]),
    "inventory:count-detail": Page(ALL, args=lambda house: [house.count.pk], table=True),
    "inventory:count-enter": Page(MAKE, MAKE, lambda house: [house.count.pk]),
    "inventory:count-add-lot": Page(NOBODY, MAKE, lambda house: [house.count.pk]),
    "inventory:count-lot": Page(MAKE, MAKE, lambda house: [house.count.pk, house.soap[1].code]),
    "inventory:count-post": Page(MAKE, MAKE, lambda house: [house.count.pk]),
    "inventory:count-call-off": Page(MAKE, MAKE, lambda house: [house.count.pk]),
    "inventory:count-sheet": Page(ALL, args=lambda house: [house.count.pk]),
    "inventory:import-list": Page(BOOKS),
    "inventory:import-add": Page(BOOKS, OWNER, lambda house: ["lots"]),
    "inventory:import-template": Page(BOOKS, args=lambda house: ["lots"], table=True),
    "inventory:import-preview": Page(OWNER, OWNER, lambda house: [house.waiting.pk], table=True),
    "inventory:import-detail": Page(BOOKS, args=lambda house: [house.table.pk], table=True),
    "inventory:posting-list": Page(ALL, table=True),
    "inventory:posting-detail": Page(ALL, args=lambda house: [house.revaluation.pk]),
    "inventory:posting-reverse": Page(MAKE, MAKE, lambda house: [house.dispatch.posting_id]),
    "inventory:posting-review": Page(NOBODY, MAKE, lambda house: [house.found.pk]),
    "batches:batch-list": Page(ALL, table=True),
    "batches:batch-plan": Page(MAKE, MAKE),
    "batches:week": Page(ALL, table=True),
    "batches:batch-lots": Page(MAKE, MAKE, lambda house: [house.planned.code]),
    "batches:batch-replan": Page(MAKE, MAKE, lambda house: [house.planned.code]),
    "batches:batch-detail": Page(ALL, args=finished),
    "batches:batch-analysis": Page(ALL, table=True),
    "batches:batch-ticket": Page(ALL, args=finished),
    "batches:batch-record": Page(ALL, args=finished),
    "batches:batch-draw": Page(MAKE, MAKE, started),
    "batches:draw-correct": Page(MAKE, MAKE, lambda house: [house.finished.code, house.draws["wax"].pk]),
    "batches:batch-read": Page(NOBODY, MAKE, started),
    "batches:batch-bench": Page(MAKE, args=started),
    "batches:bench-state": Page(MAKE, args=started),
    "batches:bench-entries": Page(NOBODY, MAKE, started),
    "batches:batch-photo": Page(ALL, args=lambda house: [house.started.code, house.bench_photo.pk]),
    "batches:batch-strike-reading": Page(
        MAKE, MAKE, lambda house: [house.finished.code, house.temperature.pk]
    ),
    "batches:batch-labour": Page(NOBODY, MAKE, started),
    "batches:batch-labour-take-back": Page(MAKE, MAKE, lambda house: [house.finished.code, house.worked.pk]),
    "batches:batch-finish": Page(MAKE, MAKE, started),
    "batches:batch-give-up": Page(MAKE, MAKE, started),
    "batches:batch-one-off": Page(MAKE, MAKE, finished),
    "batches:batch-reopen": Page(MAKE, MAKE, finished),
    "batches:batch-version": Page(MAKE, MAKE, finished),
    "batches:fill-add": Page(MAKE, MAKE, finished),
    "batches:fill-detail": Page(ALL, args=lambda house: [house.fill.pk]),
    "batches:lot-release": Page(ALL, MAKE, lambda house: [house.curing.code]),
    "batches:jar-labels": Page(ALL, args=candle),
    "batches:remelt-list": Page(ALL),
    "batches:defect-list": Page(ALL),
    "batches:defect-add": Page(MAKE, MAKE),
    "batches:defect-change": Page(MAKE, MAKE, lambda house: [Defect.objects.get(words="Sinkhole").pk]),
    "batches:batch-call-off": Page(MAKE, MAKE, lambda house: [house.planned.code]),
    "batches:formula-list": Page(ALL, table=True),
    "batches:formula-add": Page(MAKE, MAKE),
    "batches:formula-detail": Page(ALL, args=formula),
    "batches:version-add": Page(MAKE, MAKE, formula),
    "batches:version-detail": Page(ALL, args=draft),
    "batches:version-change": Page(MAKE, MAKE, draft),
    "batches:version-state": Page(ALL, MAKE, draft),
    "batches:formula-copy": Page(MAKE, MAKE, draft),
    "batches:version-hazard-label": Page(ALL, MAKE, draft),
    "batches:version-compare": Page(ALL),
    "batches:fill-weight": Page(MAKE, MAKE, formula),
    "batches:burn-start": Page(MAKE, MAKE, draft),
    "batches:burn-list": Page(ALL, table=True),
    "batches:burn-limits": Page(ALL, OWNER),
    "batches:burn-detail": Page(ALL, args=lambda house: [house.burning.pk]),
    "batches:burn-read": Page(MAKE, MAKE, lambda house: [house.burning.pk]),
    "batches:burn-strike": Page(MAKE, MAKE, lambda house: [house.burning.pk, house.read.pk]),
    "batches:burn-photo-add": Page(MAKE, MAKE, lambda house: [house.burning.pk]),
    "batches:burn-photo": Page(ALL, args=lambda house: [house.burning.pk, house.burn_photo.pk]),
    "batches:burn-decide": Page(MAKE, MAKE, lambda house: [house.burning.pk]),
    "batches:complaint-list": Page(MAKE, table=True),
    "batches:complaint-add": Page(MAKE, MAKE),
    "batches:complaint-detail": Page(MAKE, args=complaint),
    "batches:complaint-change": Page(MAKE, MAKE, complaint),
    "batches:complaint-settle": Page(MAKE, MAKE, complaint),
    "batches:complaint-candle": Page(NOBODY, MAKE, complaint),
    "batches:complaint-erase": Page(OWNER, OWNER, complaint),
    "batches:complaint-photo-add": Page(MAKE, MAKE, complaint),
    "batches:complaint-photo": Page(
        MAKE, args=lambda house: [house.complaint.code, house.complaint_photo.pk]
    ),
    "batches:complaint-shared": Page(MAKE, table=True),
    "batches:complaint-patterns": Page(MAKE, table=True),
    "batches:recall-list": Page(MAKE, table=True),
    "batches:recall-start": Page(MAKE, MAKE),
    "batches:recall-detail": Page(MAKE, args=drill, table=True),
    "batches:recall-report": Page(MAKE, args=drill),
    "batches:recall-take-in": Page(NOBODY, MAKE, drill),
    "batches:recall-letters": Page(MAKE, args=drill),
    "batches:recall-close": Page(MAKE, MAKE, drill),
    "batches:recall-party": Page(MAKE, MAKE, lambda house: [house.drill.code, house.party.pk]),
    "batches:recall-answer-take-back": Page(MAKE, MAKE, lambda house: [house.drill.code, house.said.pk]),
    "batches:recall-width": Page(ALL, table=True),
    "batches:trace": Page(ALL),
    "batches:trace-code": Page(ALL, args=candle),
    "batches:trace-rows": Page(ALL, args=candle, table=True),
    "batches:trace-sheet": Page(ALL, args=candle),
    "costing:overview": Page(COSTS, table=True),
    "costing:rates": Page(COSTS, table=True),
    "costing:earning-list": Page(COSTS, table=True),
    "costing:price-list": Page(COSTS, table=True),
    "costing:price-paper": Page(COSTS),
    "costing:product-prices": Page(COSTS, args=priced, table=True),
    "costing:asked-price-add": Page(NOBODY, BOOKS, priced),
    "costing:product-sensitivity": Page(COSTS, args=priced, table=True),
    "costing:scenario-list": Page(COSTS, table=True),
    "costing:scenario-add": Page(MAKE_AND_COSTS, MAKE_AND_COSTS),
    "costing:scenario-compare": Page(COSTS, table=True),
    "costing:scenario-detail": Page(COSTS, args=thought, table=True),
    "costing:scenario-make": Page(NOBODY, MAKE_AND_COSTS, thought),
    "costing:scenario-put-away": Page(NOBODY, MAKE_AND_COSTS, thought),
    "costing:channel-list": Page(COSTS, table=True),
    "costing:channel-add": Page(BOOKS, BOOKS),
    "costing:channel-detail": Page(COSTS, args=selling, table=True),
    "costing:channel-change": Page(BOOKS, BOOKS, selling),
    "costing:channel-terms-add": Page(NOBODY, BOOKS, selling),
    "costing:price-points": Page(BOOKS, BOOKS),
    "costing:labour-rate-add": Page(NOBODY, BOOKS),
    "costing:stock-value": Page(COSTS, table=True),
    "costing:stock-value-item": Page(COSTS, args=item, table=True),
    "costing:cost-of-goods": Page(COSTS, table=True),
    "costing:cost-of-goods-paper": Page(COSTS),
    "costing:method-comparison": Page(COSTS, table=True),
    "costing:goods-rules": Page(COSTS, table=True),
    "costing:goods-rule-add": Page(NOBODY, BOOKS),
    "costing:closing-list": Page(COSTS, OWNER, table=True),
    "costing:closing-detail": Page(COSTS, args=lambda house: [house.closing.pk], table=True),
    "costing:overhead-rate-add": Page(NOBODY, BOOKS),
    "costing:overhead-paid-add": Page(NOBODY, BOOKS),
    "costing:product-list": Page(COSTS, table=True),
    "costing:cost-sheet": Page(COSTS, args=lambda house: [house.blend.version.formula_id], table=True),
    "costing:work-standard": Page(COSTS, BOOKS, formula, table=True),
    "costing:variance-list": Page(COSTS, table=True),
    "costing:batch-variance": Page(COSTS, args=finished, table=True),
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
    for batch in ("fresh", "blend", "started", "overdue", "planned", "called_off", "in_parts", "abandoned"):
        urls[f"batch {batch}"] = reverse("batches:batch-detail", args=[getattr(house, batch).code])
    for code in ("held", "expired", "expiring", "jar", "cured", "curing", "seconds", "blended"):
        urls[f"lot {code}"] = reverse("inventory:lot-detail", args=[getattr(house, code).code])
    urls["a lot of melt"] = house.recovered.get_absolute_url()
    urls["trace of melt"] = reverse("batches:trace-code", args=[house.recovered.code])
    urls["fills by threes"] = f"{house.fill.get_absolute_url()}?group=3&low=99&high=102"
    for posting in ("found", "reversal"):
        urls[f"posting {posting}"] = reverse("inventory:posting-detail", args=[getattr(house, posting).pk])
    for order in ("order_draft", "order_late", "order_whole", "order_off", "order_given_up"):
        urls[order] = reverse("inventory:order-detail", args=[getattr(house, order).code])
    urls["item on order"] = reverse("inventory:item-detail", args=[house.books.item("Shrink band").pk])
    urls["delivery of an order"] = reverse("inventory:delivery-detail", args=[house.bands.pk])
    if role in COSTS:
        urls["old offer"] = reverse("inventory:offer-detail", args=[house.old_offer.pk])
        urls["every offer"] = f"{reverse('inventory:offer-list')}?state=all"
    for count in ("counted", "given_up"):
        urls[f"count {count}"] = reverse("inventory:count-detail", args=[getattr(house, count).pk])
    urls["posting of a count"] = reverse("inventory:posting-detail", args=[house.counted.posting_id])
    for paper in ("photo", "lot_paper", "ran_out", "withdrawn", "erased"):
        urls[f"paper {paper}"] = getattr(house, paper).get_absolute_url()
    fragrance = house.shelf["fragrance"].item
    urls["item without a sheet"] = fragrance.get_absolute_url()
    urls["item over a year"] = f"{fragrance.get_absolute_url()}?span=year"
    urls["papers of the fragrance"] = reverse("inventory:item-documents", args=[fragrance.pk])
    urls["papers missing"] = f"{reverse('inventory:document-list')}?show=missing"
    urls["papers past"] = f"{reverse('inventory:document-list')}?show=past"
    urls["ledger of draws"] = f"{reverse('inventory:item-ledger', args=item(house))}?kind=drawn"
    urls["lots of the wax"] = f"{reverse('inventory:lot-list')}?item={item(house)[0]}"
    for row in (*house.table.imported_rows.all(), *house.past.imported_rows.all()):
        urls[f"posting of a table {row.posting_id}"] = row.posting.get_absolute_url()
    urls["lot of a table"] = house.opened.get_absolute_url()
    urls["trace of a lot of a table"] = reverse("batches:trace-code", args=[house.opened.code])
    urls["receipt"] = reverse("inventory:posting-detail", args=[house.delivery.posting_id])
    urls["dispatch"] = reverse("inventory:posting-detail", args=[house.dispatch.posting_id])
    urls["order of a customer, called off"] = house.unwanted.get_absolute_url()
    urls["week after"] = f"{reverse('batches:week')}?from=2026-04-08"
    urls["week before"] = f"{reverse('batches:week')}?from=2026-03-11"
    urls["trace of wax"] = reverse("batches:trace-code", args=[house.shelf["wax"].code])
    urls["trace of a batch"] = reverse("batches:trace-code", args=[house.finished.code])
    urls["trace of wax as a table"] = reverse("batches:trace-rows", args=[house.shelf["wax"].code])
    urls["burn test passed"] = house.burned.get_absolute_url()
    urls["burn tests that passed"] = f"{reverse('batches:burn-list')}?state=passed"
    urls["version approved on a word"] = house.rain.get_absolute_url()
    urls["formula approved on a word"] = house.rain.formula.get_absolute_url()
    urls["what is asked of a burned version"] = reverse(
        "batches:version-state", args=[house.candle.formula_id, house.candle.number]
    )
    side_by_side = reverse("batches:version-compare")
    urls["two versions"] = f"{side_by_side}?left={house.candle.pk}&right={house.draft.pk}"
    if role in COSTS:
        tried = reverse("costing:product-prices", args=priced(house))
        urls["a price tried"] = (
            f"{tried}?goal=markup&ppm=80&channel={house.web.pk}&price=26&units=40&fixed=90"
        )
        both = f"s={house.thought.pk}&s={house.other_thought.pk}"
        urls["scenarios compared"] = f"{reverse('costing:scenario-compare')}?{both}"
        urls["scenarios put away"] = f"{reverse('costing:scenario-list')}?show=away"
    if role in MAKE_AND_COSTS:
        again = reverse("costing:scenario-add")
        urls["scenario begun"] = f"{again}?version={house.candle.pk}"
        urls["scenario again"] = f"{again}?like={house.thought.pk}"
    if role in MAKE:
        urls["complaint whose code is lost"] = house.lost.get_absolute_url()
        urls["complaint that is closed"] = house.settled.get_absolute_url()
        urls["closed complaints"] = f"{reverse('batches:complaint-list')}?state=closed"
        urls["drill that ended"] = house.drilled.get_absolute_url()
        urls["recall to be begun"] = f"{reverse('batches:recall-start')}?lot={house.shelf['wax'].code}"
        plan = reverse("batches:batch-plan")
        urls["plan shown"] = f"{plan}?formula={house.rain.pk}&quantity=6"
        arrived, again = reverse("inventory:delivery-add"), reverse("inventory:order-add")
        urls["an order arrived"] = f"{arrived}?order={house.order_part.code}"
        urls["order again"] = f"{again}?like={house.order_draft.code}"
        urls["order an offer"] = f"{again}?offer={house.offer.pk}"
        urls["plan begun"] = f"{plan}?formula={house.candle.pk}"
        urls["plan of all there is"] = f"{plan}?start=most&formula={house.candle.pk}"
        wax = house.shelf["wax"].code
        urls["plan to use a lot up"] = f"{plan}?start=lot&formula={house.candle.pk}&lot={wax}"
        urls["plan for an order"] = (
            f"{plan}?start=order&line={house.wanted.lines.get().pk}&formula={house.rain.pk}"
        )
    if role in MAKE_AND_COSTS:
        urls["quote again"] = f"{reverse('inventory:offer-add')}?like={house.offer.pk}"
    return urls


def tables(house: SimpleNamespace, role: str) -> dict[str, str]:
    """Every page that leaves as a table, by its address without the format."""
    return {name: page.url(name, house) for name, page in PAGES.items() if page.table and role in page.see}
