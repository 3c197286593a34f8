"""Shops whose orders are brought in: each with its columns and products, a file looked at first, then brought in."""

from typing import Any

from django.contrib import messages
from django.db.models import Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone

from inventory.customers.customers import channel_named
from inventory.importing.forms import TableFileForm, harmless_name
from inventory.importing.tables import PROBLEMS
from inventory.ledger.books import BookError
from inventory.models import Item, Kind, Lot, Shop, ShopOrder, ShopProduct, WaitingOrders
from inventory.sales_orders.customer_orders import CustomerOrderError
from inventory.sales_orders.designs import lots_not_approved, products_not_approved
from inventory.shop_files import import_service
from inventory.shop_files.forms import ColumnsForm, ProductsForm, ShopForm
from inventory.shop_files.import_service import NotAsShown
from inventory.shop_files.planning import OrderPlan, plan_of, sample_of
from inventory.shop_files.reading import FIELDS, Product
from studio.people.access import MAKERS, allow
from studio.web import tables
from studio.web.reading_tables import UnreadableTable
from studio.web.requests import StudioRequest, answer, page_of, sign, today
from studio.web.submissions import once
from studio.web.tables import Column, Format, Table

PROBLEMS_SHOWN = 200
SAMPLE = 20
COLUMNS, PRODUCTS = "columns", "products"


@allow(see=MAKERS)
def shop_list(request: StudioRequest) -> HttpResponse:
    """The shops whose orders are brought in."""
    context = {"shops": Shop.objects.select_related("channel")}
    return answer(request, "inventory/shop_list.html", context)


@allow(see=MAKERS, do=MAKERS)
def shop_add(request: StudioRequest) -> HttpResponse:
    """A shop more."""
    return _shop_form(request, ShopForm(request.POST or None), None)


@allow(see=MAKERS, do=MAKERS)
def shop_change(request: StudioRequest, pk: int) -> HttpResponse:
    """Another name, another channel, or its orders become something else from now on."""
    shop = get_object_or_404(Shop, pk=pk)
    return _shop_form(request, ShopForm(request.POST or None, instance=shop), shop)


def _shop_form(request: StudioRequest, form: ShopForm, shop: Shop | None) -> HttpResponse:
    if request.method == "POST" and form.is_valid():

        def act() -> str:
            kept: Shop = form.save()
            if new := channel_named(form.cleaned_data["new_channel"]):
                kept.channel = new
                kept.save(update_fields=["channel"])
            return kept.get_absolute_url()

        return redirect(once(request, act))
    return answer(request, "inventory/shop_form.html", {"form": form, "shop": shop}, refused=form.is_bound)


@allow(see=MAKERS, do=MAKERS)
def shop_detail(request: StudioRequest, pk: int) -> HttpResponse:
    """One shop: a file of its orders to be read, what its columns hold, its products, and what came in."""
    shop = get_object_or_404(Shop.objects.select_related("channel"), pk=pk)
    form = TableFileForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid() and (url := _keep(request, shop, form)):
        return redirect(url)
    refused = request.method == "POST"
    if refused and not form.is_bound:
        form = TableFileForm(request.POST, request.FILES)
    came = ShopOrder.objects.filter(shop=shop).select_related("order", "dispatch", "by")
    if tables.wanted(request):
        return CAME_IN.file(request, came)
    products = list(shop.products.select_related("item"))
    context = {
        "shop": shop,
        "form": form,
        "unapproved": products_not_approved(product.item for product in products if product.item),
        "columns": [(label, shop.columns.get(name, "")) for name, label in FIELDS.items()],
        "products": products,
        "waiting": import_service.still_waiting(timezone.now())
        .filter(shop=shop)
        .select_related("by")
        .defer("content"),
        "page": page_of(request, came),
    }
    return answer(request, "inventory/shop_detail.html", context, refused=refused)


CAME_IN = Table(
    "came-in",
    "Came in",
    [
        Column("Reference", "reference"),
        Column("Became", lambda row: "Order" if row.order else "Dispatch"),
        Column("Number", lambda row: row.order.code if row.order else row.dispatch_id),
        Column("Brought in", "at", Format.TIME),
        Column("By", "by"),
    ],
)


def _keep(request: StudioRequest, shop: Shop, form: TableFileForm) -> str | None:
    """Read the file and keep it; None when it is no table, with the sentence on the form."""
    file = form.cleaned_data["file"]

    def act() -> str:
        name = harmless_name(file.name)
        return import_service.keep(
            shop, name, file.read(), by=request.user, now=timezone.now()
        ).get_absolute_url()

    try:
        return once(request, act)
    except UnreadableTable as error:
        form.add_error("file", str(error))
        return None


@allow(see=MAKERS, do=MAKERS)
def shop_file(request: StudioRequest, pk: int, file: int) -> HttpResponse:
    """What a file holds and what is wrong in it: columns first, then products, then the press that brings it in."""
    here = import_service.still_waiting(timezone.now()).select_related("shop__channel")
    waiting = get_object_or_404(here, pk=file, shop__pk=pk)
    plan = plan_of(waiting, today())
    if tables.wanted(request):
        return PROBLEMS.file(request, plan.problems)
    if request.method != "POST":
        return _file_page(request, waiting, plan)
    if COLUMNS in request.POST:
        columns = _columns_form(waiting, plan, request.POST)
        if columns.is_valid():
            import_service.keep_columns(pk, columns.columns(), columns.cleaned_data["days"])
            return redirect(waiting)
        return _file_page(request, waiting, plan, columns=columns)
    if PRODUCTS in request.POST:
        products = _products_form(plan, request.POST)
        if products.is_valid():
            import_service.keep_products(pk, products.products())
            return redirect(waiting)
        return _file_page(request, waiting, plan, products=products)
    return _bring_in(request, waiting)


@allow(see=MAKERS, do=MAKERS)
def shop_product(request: StudioRequest, pk: int, product: int) -> HttpResponse:
    """Put right what one of a shop's products is here; what came in before stays."""
    kept = get_object_or_404(ShopProduct.objects.select_related("shop"), pk=product, shop__pk=pk)
    items = list(Item.objects.filter(Q(kind=Kind.FINISHED) & (Q(retired=False) | Q(pk=kept.item_id))))
    known = {kept.words: Product(kept.item_id, kept.pieces)}
    unapproved = products_not_approved(items)
    form = ProductsForm(
        request.POST or None, words=[kept.words], items=items, known=known, unapproved=unapproved
    )
    if request.method == "POST" and form.is_valid():
        import_service.keep_products(pk, form.products())
        return redirect(kept.shop)
    context = {"shop": kept.shop, "product": kept, "form": form}
    return answer(request, "inventory/shop_product.html", context, refused=form.is_bound)


def _columns_form(waiting: WaitingOrders, plan: OrderPlan, data: Any = None) -> ColumnsForm:
    shop = waiting.shop
    return ColumnsForm(data, headings=plan.headings, columns=shop.columns, days=shop.days)


def _products_form(plan: OrderPlan, data: Any = None) -> ProductsForm:
    items = list(Item.objects.current().filter(kind=Kind.FINISHED))
    return ProductsForm(data, words=plan.read.unknown, items=items, unapproved=products_not_approved(items))


def _bring_in(request: StudioRequest, waiting: WaitingOrders) -> HttpResponse:
    shop = waiting.shop

    def act() -> str:
        done = import_service.bring_in(
            waiting.pk, shown=request.POST.get("shown", ""), signature=sign(request)
        )
        many = len(done.new)
        what = "order" if shop.becomes == Shop.Becomes.ORDER else "dispatch"
        plural = what if many == 1 else "orders" if what == "order" else "dispatches"
        messages.success(request, f"{many:,} {plural} brought in from {shop}.")
        return shop.get_absolute_url()

    try:
        return redirect(once(request, act))
    except (NotAsShown, CustomerOrderError, BookError) as error:
        messages.warning(request, f"Nothing was brought in. {error}")
        return _file_page(request, waiting, plan_of(waiting, today()), refused=True)


def _file_page(
    request: StudioRequest,
    waiting: WaitingOrders,
    plan: OrderPlan,
    *,
    columns: ColumnsForm | None = None,
    products: ProductsForm | None = None,
    refused: bool = False,
) -> HttpResponse:
    context = {
        "shop": waiting.shop,
        "waiting": waiting,
        "plan": plan,
        "columns": columns or _columns_form(waiting, plan),
        "missing": [FIELDS[name] for name in plan.missing],
        "products": products or (_products_form(plan) if plan.read.unknown else None),
        "problems": plan.problems[:PROBLEMS_SHOWN],
        "more": max(len(plan.problems) - PROBLEMS_SHOWN, 0),
        "sample": [
            (each, [(plan.items[key], quantity) for key, quantity in each.order.wanted.items()])
            for each in sample_of(plan, SAMPLE)
        ],
        "changed": plan.changed[:PROBLEMS_SHOWN],
        "notices": plan.notices[:PROBLEMS_SHOWN],
        **_unapproved(plan),
    }
    refused = refused or columns is not None or products is not None
    return answer(request, "inventory/shop_file.html", context, refused=refused)


def _unapproved(plan: OrderPlan) -> dict[str, Any]:
    """Which of the new orders' products and lots are of designs that were never approved, and the names of all of them.

    What left of lots counts by its lots, what is only wanted by its product.
    """
    picked = list(Lot.objects.filter(pk__in={taking.lot_id for each in plan.new for _, taking in each.picks}))
    never = lots_not_approved(picked)
    lots = {lot.code: lot.item_id for lot in picked if lot.pk in never}
    wanted = {key for each in plan.new if not each.picks for key in each.order.wanted}
    items = products_not_approved(plan.items[key] for key in wanted)
    names = sorted({plan.items[key].name for key in {*items, *lots.values()}})
    return {"unapproved": items, "unapproved_lots": lots, "unapproved_names": names}
