"""Batches, formulas and tracing."""

from django.urls import path

from batches import (
    views,
    views_burning,
    views_draws,
    views_fill_checks,
    views_fill_weight,
    views_finishing,
    views_formulas,
    views_releasing,
    views_trace,
    views_versions,
)

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
    path("batches/<str:code>/finish/", views_finishing.batch_finish, name="batch-finish"),
    path("batches/<str:code>/give-up/", views_finishing.batch_give_up, name="batch-give-up"),
    path("batches/<str:code>/reopen/", views_finishing.batch_reopen, name="batch-reopen"),
    path("batches/<str:code>/fill/", views_fill_checks.fill_add, name="fill-add"),
    path("fill-checks/<int:pk>/", views_fill_checks.fill_detail, name="fill-detail"),
    path("release/<str:code>/", views_releasing.lot_release, name="lot-release"),
    path("defects/", views_finishing.defect_list, name="defect-list"),
    path("defects/add/", views_finishing.defect_add, name="defect-add"),
    path("defects/<int:pk>/", views_finishing.defect_change, name="defect-change"),
    path("batches/<str:code>/call-off/", views.batch_call_off, name="batch-call-off"),
    path("formulas/", views_formulas.formula_list, name="formula-list"),
    path("formulas/add/", views_formulas.formula_add, name="formula-add"),
    path("formulas/compare/", views_versions.version_compare, name="version-compare"),
    path("formulas/<int:pk>/", views_formulas.formula_detail, name="formula-detail"),
    path("formulas/<int:pk>/versions/add/", views_formulas.version_add, name="version-add"),
    path("formulas/<int:pk>/versions/<int:number>/", views_formulas.version_detail, name="version-detail"),
    path(
        "formulas/<int:pk>/versions/<int:number>/change/",
        views_formulas.version_change,
        name="version-change",
    ),
    path(
        "formulas/<int:pk>/versions/<int:number>/state/", views_versions.version_state, name="version-state"
    ),
    path("formulas/<int:pk>/versions/<int:number>/copy/", views_versions.formula_copy, name="formula-copy"),
    path("formulas/<int:pk>/versions/<int:number>/burn-test/", views_burning.burn_start, name="burn-start"),
    path("formulas/<int:pk>/fill-weight/", views_fill_weight.fill_weight, name="fill-weight"),
    path("burn-tests/", views_burning.burn_list, name="burn-list"),
    path("burn-tests/limits/", views_burning.burn_limits, name="burn-limits"),
    path("burn-tests/<int:pk>/", views_burning.burn_detail, name="burn-detail"),
    path("burn-tests/<int:pk>/read/", views_burning.burn_read, name="burn-read"),
    path("burn-tests/<int:pk>/readings/<int:reading>/strike/", views_burning.burn_strike, name="burn-strike"),
    path("burn-tests/<int:pk>/decide/", views_burning.burn_decide, name="burn-decide"),
    path("trace/", views_trace.trace, name="trace"),
    path("trace/<str:code>/", views_trace.trace_code, name="trace-code"),
]
