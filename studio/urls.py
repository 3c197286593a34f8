"""Every page of the studio."""

from django.urls import include, path

from studio import health
from studio.home import search, today, views

urlpatterns = [
    path("", today.today, name="today"),
    path("find/", search.search, name="search"),
    path("health/", health.health, name="health"),
    path("welcome/", views.welcome, name="welcome"),
    path("sign-in/", views.sign_in, name="sign-in"),
    path("sign-out/", views.sign_out, name="sign-out"),
    path("account/", views.account, name="account"),
    path("settings/", views.settings, name="settings"),
    path("settings/label-warning/", views.label_warning, name="label-warning"),
    path("export/", views.export_all, name="data-export"),
    path("people/", views.people, name="people"),
    path("people/add/", views.person_add, name="person-add"),
    path("people/<int:pk>/", views.person_change, name="person-change"),
    path("stock/", include("inventory.urls")),
    path("", include("batches.urls")),
    path("costing/", include("costing.urls")),
]
