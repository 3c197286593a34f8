"""Batches, formulas and tracing."""

from django.urls import path

from batches import views, views_draws, views_formulas, views_trace

app_name = "batches"
urlpatterns = [
    path("batches/", views.batch_list, name="batch-list"),
    path("batches/plan/", views.batch_plan, name="batch-plan"),
    path("batches/<str:code>/", views.batch_detail, name="batch-detail"),
    path("batches/<str:code>/ticket.pdf", views.batch_ticket, name="batch-ticket"),
    path("batches/<str:code>/draw/", views_draws.batch_draw, name="batch-draw"),
    path("batches/<str:code>/draws/<int:pk>/correct/", views_draws.draw_correct, name="draw-correct"),
    path("batches/<str:code>/read/", views.batch_read, name="batch-read"),
    path("batches/<str:code>/labour/", views.batch_labour, name="batch-labour"),
    path("batches/<str:code>/finish/", views.batch_finish, name="batch-finish"),
    path("batches/<str:code>/reopen/", views.batch_reopen, name="batch-reopen"),
    path("batches/<str:code>/call-off/", views.batch_call_off, name="batch-call-off"),
    path("formulas/", views_formulas.formula_list, name="formula-list"),
    path("formulas/add/", views_formulas.formula_add, name="formula-add"),
    path("formulas/<int:pk>/", views_formulas.formula_detail, name="formula-detail"),
    path("formulas/<int:pk>/versions/add/", views_formulas.version_add, name="version-add"),
    path("formulas/<int:pk>/versions/<int:number>/", views_formulas.version_detail, name="version-detail"),
    path(
        "formulas/<int:pk>/versions/<int:number>/change/",
        views_formulas.version_change,
        name="version-change",
    ),
    path(
        "formulas/<int:pk>/versions/<int:number>/state/", views_formulas.version_state, name="version-state"
    ),
    path("trace/", views_trace.trace, name="trace"),
    path("trace/<str:code>/", views_trace.trace_code, name="trace-code"),
]
