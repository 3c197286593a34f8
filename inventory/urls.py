"""Stock: items, suppliers, deliveries, lots and the books."""

from django.urls import path

from inventory.counting import views as views_counts
from inventory.counting import views_counting
from inventory.customers import views
from inventory.deliveries import views as views_deliveries
from inventory.deliveries import views_late_costs
from inventory.documents import views as views_documents
from inventory.importing import views as views_imports
from inventory.item_pages import views as views_items
from inventory.item_pages import views_ledger
from inventory.labels import views as views_labels
from inventory.ledger import views as views_books
from inventory.lots import views as views_lots
from inventory.lots import views_adjusting
from inventory.purchasing import views_offers, views_ordering, views_orders, views_suppliers
from inventory.replenishment import views as views_reorder
from inventory.replenishment import views_purchase
from inventory.sales_orders import views as views_customer_orders
from inventory.shipments import views as views_dispatches
from inventory.shipments import views_for_order as views_customer_sending
from inventory.shipments import views_sending
from inventory.shop_files import views as views_shops

app_name = "inventory"
urlpatterns = [
    path("", views_items.item_list, name="item-list"),
    path("items/add/", views_items.item_add, name="item-add"),
    path("items/<int:pk>/", views_items.item_detail, name="item-detail"),
    path("items/<int:pk>/change/", views_items.item_change, name="item-change"),
    path("items/<int:pk>/ledger/", views_ledger.item_ledger, name="item-ledger"),
    path("items/<int:pk>/documents/", views_documents.item_documents, name="item-documents"),
    path("items/<int:pk>/documents/add/", views_documents.document_add, name="document-add"),
    path("documents/", views_documents.document_list, name="document-list"),
    path("documents/<int:pk>/", views_documents.document_detail, name="document-detail"),
    path("documents/<int:pk>/file/", views_documents.document_file, name="document-file"),
    path("documents/<int:pk>/change/", views_documents.document_change, name="document-change"),
    path("documents/<int:pk>/withdraw/", views_documents.document_withdraw, name="document-withdraw"),
    path("documents/<int:pk>/restore/", views_documents.document_put_back, name="document-put-back"),
    path("documents/<int:pk>/erase/", views_documents.document_erase, name="document-erase"),
    path("items/<int:pk>/reorder/", views_reorder.item_reorder, name="item-reorder"),
    path("items/<int:pk>/reorder/change/", views_purchase.item_reorder_change, name="item-reorder-change"),
    path("reorder/", views_reorder.reorder_list, name="reorder-list"),
    path("reorder/purchase/", views_purchase.purchase_list, name="purchase-list"),
    path("reorder/rules/", views_purchase.reorder_rules, name="reorder-rules"),
    path("reorder/slow/", views_reorder.slow_list, name="slow-list"),
    path("ledger/<int:pk>/one-off/", views_purchase.posting_one_off, name="posting-one-off"),
    path("suppliers/<int:pk>/terms/", views_purchase.supplier_terms, name="supplier-terms"),
    path("suppliers/", views_suppliers.supplier_list, name="supplier-list"),
    path("suppliers/add/", views_suppliers.supplier_add, name="supplier-add"),
    path("suppliers/<int:pk>/", views_suppliers.supplier_detail, name="supplier-detail"),
    path("suppliers/<int:pk>/change/", views_suppliers.supplier_change, name="supplier-change"),
    path("items/<int:pk>/prices/", views_offers.item_prices, name="item-prices"),
    path("supplier-prices/", views_offers.offer_list, name="offer-list"),
    path("supplier-prices/add/", views_offers.offer_add, name="offer-add"),
    path("supplier-prices/<int:pk>/", views_offers.offer_detail, name="offer-detail"),
    path("supplier-prices/<int:pk>/withdraw/", views_offers.offer_withdraw, name="offer-withdraw"),
    path("sales-orders/", views_customer_orders.customer_order_list, name="customer-order-list"),
    path("sales-orders/add/", views_customer_orders.customer_order_add, name="customer-order-add"),
    path(
        "sales-orders/<str:code>/",
        views_customer_orders.customer_order_detail,
        name="customer-order-detail",
    ),
    path(
        "sales-orders/<str:code>/change/",
        views_customer_orders.customer_order_change,
        name="customer-order-change",
    ),
    path(
        "sales-orders/<str:code>/send/",
        views_customer_sending.customer_order_send,
        name="customer-order-send",
    ),
    path(
        "sales-orders/<str:code>/cancel/",
        views_customer_orders.customer_order_call_off,
        name="customer-order-call-off",
    ),
    path("purchase-orders/", views_orders.order_list, name="order-list"),
    path("purchase-orders/add/", views_ordering.order_add, name="order-add"),
    path("purchase-orders/<str:code>/", views_orders.order_detail, name="order-detail"),
    path("purchase-orders/<str:code>/print/", views_orders.order_paper, name="order-paper"),
    path("purchase-orders/<str:code>/change/", views_ordering.order_change, name="order-change"),
    path("purchase-orders/<str:code>/send/", views_ordering.order_send, name="order-send"),
    path("purchase-orders/<str:code>/close/", views_ordering.order_close, name="order-close"),
    path("purchase-orders/<str:code>/cancel/", views_ordering.order_call_off, name="order-call-off"),
    path("purchase-orders/<str:code>/reopen/", views_ordering.order_reopen, name="order-reopen"),
    path("customers/", views.customer_list, name="customer-list"),
    path("customers/retention/", views.customer_retention, name="customer-retention"),
    path("customers/<int:pk>/", views.customer_detail, name="customer-detail"),
    path("customers/<int:pk>/change/", views.customer_change, name="customer-change"),
    path("customers/<int:pk>/erase/", views.customer_erase, name="customer-erase"),
    path("shipments/", views_dispatches.dispatch_list, name="dispatch-list"),
    path("shipments/returns/", views_dispatches.return_list, name="return-list"),
    path("shipments/send/", views_sending.dispatch_add, name="dispatch-add"),
    path("shipments/<int:pk>/", views_dispatches.dispatch_detail, name="dispatch-detail"),
    path("shipments/<int:pk>/packing-slip/", views_dispatches.dispatch_slip, name="dispatch-slip"),
    path("shipments/<int:pk>/change/", views_dispatches.dispatch_change, name="dispatch-change"),
    path("shipments/<int:pk>/return/", views_dispatches.dispatch_return, name="dispatch-return"),
    path("shops/", views_shops.shop_list, name="shop-list"),
    path("shops/add/", views_shops.shop_add, name="shop-add"),
    path("shops/<int:pk>/", views_shops.shop_detail, name="shop-detail"),
    path("shops/<int:pk>/change/", views_shops.shop_change, name="shop-change"),
    path("shops/<int:pk>/products/<int:product>/", views_shops.shop_product, name="shop-product"),
    path("shops/<int:pk>/files/<int:file>/", views_shops.shop_file, name="shop-file"),
    path("deliveries/", views_deliveries.delivery_list, name="delivery-list"),
    path("deliveries/add/", views_deliveries.delivery_add, name="delivery-add"),
    path("deliveries/<int:pk>/", views_deliveries.delivery_detail, name="delivery-detail"),
    path("deliveries/<int:pk>/late-cost/", views_late_costs.late_cost_add, name="late-cost-add"),
    path("period-costs/", views_late_costs.period_cost_list, name="period-cost-list"),
    path("deliveries/<int:pk>/labels/", views_labels.delivery_labels, name="delivery-labels"),
    path("lots/<str:code>/labels/", views_labels.lot_labels, name="lot-labels"),
    path("labels/", views_labels.label_layout_list, name="label-layout-list"),
    path("labels/add/", views_labels.label_layout_add, name="label-layout-add"),
    path("labels/<int:pk>/", views_labels.label_layout_change, name="label-layout-change"),
    path("lots/", views_lots.lot_list, name="lot-list"),
    path("lots/<str:code>/", views_lots.lot_detail, name="lot-detail"),
    path("lots/<str:code>/change/", views_lots.lot_change, name="lot-change"),
    path("lots/<str:code>/documents/add/", views_documents.lot_document_add, name="lot-document-add"),
    path("lots/<str:code>/hold/", views_lots.lot_hold, name="lot-hold"),
    path("lots/<str:code>/release/", views_lots.lot_release, name="lot-release"),
    path("lots/<str:code>/override/", views_lots.lot_allow, name="lot-allow"),
    path("lots/<str:code>/end-override/", views_lots.lot_disallow, name="lot-disallow"),
    path("lots/<str:code>/decant/", views_adjusting.lot_decant, name="lot-decant"),
    path("lots/<str:code>/write-off/", views_adjusting.lot_take_out, name="lot-take-out"),
    path("lots/<str:code>/adjust/", views_adjusting.lot_put_right, name="lot-put-right"),
    path("reasons/", views_adjusting.reason_list, name="reason-list"),
    path("reasons/add/", views_adjusting.reason_add, name="reason-add"),
    path("reasons/<int:pk>/", views_adjusting.reason_change, name="reason-change"),
    path("lots/<str:code>/ship/", views_sending.lot_send, name="lot-send"),
    path("counts/", views_counts.count_list, name="count-list"),
    path("counts/start/", views_counts.count_start, name="count-start"),
    path("counts/classes/", views_counts.count_class_list, name="count-class-list"),
    path("counts/classes/<int:pk>/", views_counts.count_class_change, name="count-class-change"),
    path("counts/<int:pk>/", views_counts.count_detail, name="count-detail"),
    path("counts/<int:pk>/enter/", views_counting.count_enter, name="count-enter"),
    path("counts/<int:pk>/add/", views_counts.count_add_lot, name="count-add-lot"),
    path("counts/<int:pk>/lots/<str:code>/", views_counting.count_lot, name="count-lot"),
    path("counts/<int:pk>/post/", views_counting.count_post, name="count-post"),
    path("counts/<int:pk>/cancel/", views_counts.count_call_off, name="count-call-off"),
    path("counts/<int:pk>/sheet/", views_counts.count_sheet, name="count-sheet"),
    path("import/", views_imports.import_list, name="import-list"),
    path("import/file/<int:pk>/", views_imports.import_preview, name="import-preview"),
    path("import/done/<int:pk>/", views_imports.import_detail, name="import-detail"),
    path("import/<str:table>/", views_imports.import_add, name="import-add"),
    path("import/<str:table>/template/", views_imports.import_template, name="import-template"),
    path("ledger/", views_books.posting_list, name="posting-list"),
    path("ledger/<int:pk>/", views_books.posting_detail, name="posting-detail"),
    path("ledger/<int:pk>/reverse/", views_books.posting_reverse, name="posting-reverse"),
    path("ledger/<int:pk>/review/", views_books.posting_review, name="posting-review"),
]
