"""Costing: what batches cost, and the rates they cost it by."""

from django.urls import path

from costing import views

app_name = "costing"
urlpatterns = [
    path("", views.overview, name="overview"),
    path("rates/", views.rates, name="rates"),
    path("rates/labour/", views.labour_rate_add, name="labour-rate-add"),
    path("rates/overhead/", views.overhead_rate_add, name="overhead-rate-add"),
]
