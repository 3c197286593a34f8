"""Stock: items, suppliers, deliveries, lots and the books."""

from django.urls import path

from inventory import views_books, views_deliveries, views_items, views_lots

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
    path("lots/", views_lots.lot_list, name="lot-list"),
    path("lots/<str:code>/", views_lots.lot_detail, name="lot-detail"),
    path("lots/<str:code>/change/", views_lots.lot_change, name="lot-change"),
    path("lots/<str:code>/hold/", views_lots.lot_hold, name="lot-hold"),
    path("lots/<str:code>/release/", views_lots.lot_release, name="lot-release"),
    path("lots/<str:code>/send/", views_lots.lot_send, name="lot-send"),
    path("books/", views_books.posting_list, name="posting-list"),
    path("books/<int:pk>/", views_books.posting_detail, name="posting-detail"),
    path("books/<int:pk>/reverse/", views_books.posting_reverse, name="posting-reverse"),
    path("books/<int:pk>/review/", views_books.posting_review, name="posting-review"),
]
