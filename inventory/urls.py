"""Stock: items, suppliers, deliveries, lots and the books."""

from django.urls import path

from inventory import (
    views_books,
    views_deliveries,
    views_items,
    views_labels,
    views_late_costs,
    views_lots,
    views_taking,
)

app_name = "inventory"
urlpatterns = [
    path("", views_items.item_list, name="item-list"),
    path("items/add/", views_items.item_add, name="item-add"),
    path("items/<int:pk>/", views_items.item_detail, name="item-detail"),
    path("items/<int:pk>/change/", views_items.item_change, name="item-change"),
    path("suppliers/", views_items.supplier_list, name="supplier-list"),
    path("suppliers/add/", views_items.supplier_add, name="supplier-add"),
    path("suppliers/<int:pk>/", views_items.supplier_detail, name="supplier-detail"),
    path("suppliers/<int:pk>/change/", views_items.supplier_change, name="supplier-change"),
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
    path("lots/<str:code>/hold/", views_lots.lot_hold, name="lot-hold"),
    path("lots/<str:code>/release/", views_lots.lot_release, name="lot-release"),
    path("lots/<str:code>/allow/", views_lots.lot_allow, name="lot-allow"),
    path("lots/<str:code>/disallow/", views_lots.lot_disallow, name="lot-disallow"),
    path("lots/<str:code>/decant/", views_taking.lot_decant, name="lot-decant"),
    path("lots/<str:code>/take-out/", views_taking.lot_take_out, name="lot-take-out"),
    path("lots/<str:code>/put-right/", views_taking.lot_put_right, name="lot-put-right"),
    path("reasons/", views_taking.reason_list, name="reason-list"),
    path("reasons/add/", views_taking.reason_add, name="reason-add"),
    path("reasons/<int:pk>/", views_taking.reason_change, name="reason-change"),
    path("lots/<str:code>/send/", views_lots.lot_send, name="lot-send"),
    path("books/", views_books.posting_list, name="posting-list"),
    path("books/<int:pk>/", views_books.posting_detail, name="posting-detail"),
    path("books/<int:pk>/reverse/", views_books.posting_reverse, name="posting-reverse"),
    path("books/<int:pk>/review/", views_books.posting_review, name="posting-review"),
]
