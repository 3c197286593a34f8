"""Batches, formulas and tracing."""

from django.urls import path

from batches.analysis import views as views_analysis
from batches.bench import views as views_bench
from batches.burn_tests import views as views_burning
from batches.complaints import views as views_complaints
from batches.fill_checks import views as views_fill_checks
from batches.formulas import views as views_formulas
from batches.formulas import views_fill_weight, views_hazard_label, views_versions
from batches.planning import views as views_planning
from batches.planning import views_week
from batches.production import views as views_runs
from batches.production import (
    views_draws,
    views_finishing,
    views_one_off,
    views_releasing,
    views_remelt,
    views_version,
)
from batches.recalls import views as views_recalls
from batches.records import views_jar_labels, views_record, views_ticket
from batches.tracing import views as views_trace

app_name = "batches"
urlpatterns = [
    path("batches/", views_runs.batch_list, name="batch-list"),
    path("batches/plan/", views_planning.batch_plan, name="batch-plan"),
    path("batches/week/", views_week.week, name="week"),
    path("batches/<str:code>/lots/", views_planning.batch_lots, name="batch-lots"),
    path("batches/<str:code>/replan/", views_planning.batch_replan, name="batch-replan"),
    path("batches/analysis/", views_analysis.batch_analysis, name="batch-analysis"),
    path("batches/bench-worker.js", views_bench.bench_worker, name="bench-worker"),
    path("batches/<str:code>/", views_runs.batch_detail, name="batch-detail"),
    path("batches/<str:code>/bench/", views_bench.batch_bench, name="batch-bench"),
    path("batches/<str:code>/bench/state/", views_bench.bench_state_json, name="bench-state"),
    path("batches/<str:code>/bench/entries/", views_bench.bench_entries, name="bench-entries"),
    path("batches/<str:code>/photos/<int:pk>/", views_bench.batch_photo, name="batch-photo"),
    path("batches/<str:code>/ticket.pdf", views_ticket.batch_ticket, name="batch-ticket"),
    path("batches/<str:code>/record.pdf", views_record.batch_record, name="batch-record"),
    path("batches/<str:code>/draw/", views_draws.batch_draw, name="batch-draw"),
    path("batches/<str:code>/draws/<int:pk>/correct/", views_draws.draw_correct, name="draw-correct"),
    path("batches/<str:code>/read/", views_runs.batch_read, name="batch-read"),
    path(
        "batches/<str:code>/readings/<int:pk>/void/",
        views_runs.batch_strike_reading,
        name="batch-strike-reading",
    ),
    path("batches/<str:code>/labor/", views_runs.batch_labour, name="batch-labour"),
    path(
        "batches/<str:code>/labor/<int:pk>/take-back/",
        views_runs.batch_labour_take_back,
        name="batch-labour-take-back",
    ),
    path("batches/<str:code>/finish/", views_finishing.batch_finish, name="batch-finish"),
    path("batches/<str:code>/abandon/", views_finishing.batch_give_up, name="batch-give-up"),
    path("batches/<str:code>/one-off/", views_one_off.batch_one_off, name="batch-one-off"),
    path("batches/<str:code>/version/", views_version.batch_version, name="batch-version"),
    path("batches/<str:code>/reopen/", views_finishing.batch_reopen, name="batch-reopen"),
    path("batches/<str:code>/fill/", views_fill_checks.fill_add, name="fill-add"),
    path("fill-checks/<int:pk>/", views_fill_checks.fill_detail, name="fill-detail"),
    path("release/<str:code>/", views_releasing.lot_release, name="lot-release"),
    path("lots/<str:code>/jar-labels/", views_jar_labels.jar_labels, name="jar-labels"),
    path("remelt/", views_remelt.remelt_list, name="remelt-list"),
    path("defects/", views_finishing.defect_list, name="defect-list"),
    path("defects/add/", views_finishing.defect_add, name="defect-add"),
    path("defects/<int:pk>/", views_finishing.defect_change, name="defect-change"),
    path("batches/<str:code>/cancel/", views_runs.batch_call_off, name="batch-call-off"),
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
    path(
        "formulas/<int:pk>/versions/<int:number>/hazard-label/",
        views_hazard_label.version_hazard_label,
        name="version-hazard-label",
    ),
    path("formulas/<int:pk>/fill-weight/", views_fill_weight.fill_weight, name="fill-weight"),
    path("burn-tests/", views_burning.burn_list, name="burn-list"),
    path("burn-tests/limits/", views_burning.burn_limits, name="burn-limits"),
    path("burn-tests/<int:pk>/", views_burning.burn_detail, name="burn-detail"),
    path("burn-tests/<int:pk>/read/", views_burning.burn_read, name="burn-read"),
    path("burn-tests/<int:pk>/readings/<int:reading>/void/", views_burning.burn_strike, name="burn-strike"),
    path("burn-tests/<int:pk>/photos/add/", views_burning.burn_photo_add, name="burn-photo-add"),
    path("burn-tests/<int:pk>/photos/<int:photo>/", views_burning.burn_photo, name="burn-photo"),
    path("burn-tests/<int:pk>/decide/", views_burning.burn_decide, name="burn-decide"),
    path("complaints/", views_complaints.complaint_list, name="complaint-list"),
    path("complaints/add/", views_complaints.complaint_add, name="complaint-add"),
    path("complaints/common-lots/", views_complaints.complaint_shared, name="complaint-shared"),
    path("complaints/rates/", views_complaints.complaint_patterns, name="complaint-patterns"),
    path("complaints/<str:code>/", views_complaints.complaint_detail, name="complaint-detail"),
    path("complaints/<str:code>/change/", views_complaints.complaint_change, name="complaint-change"),
    path("complaints/<str:code>/settle/", views_complaints.complaint_settle, name="complaint-settle"),
    path("complaints/<str:code>/candle/", views_complaints.complaint_candle, name="complaint-candle"),
    path("complaints/<str:code>/erase/", views_complaints.complaint_erase, name="complaint-erase"),
    path(
        "complaints/<str:code>/photos/add/",
        views_complaints.complaint_photo_add,
        name="complaint-photo-add",
    ),
    path("complaints/<str:code>/photos/<int:pk>/", views_complaints.complaint_photo, name="complaint-photo"),
    path("recalls/", views_recalls.recall_list, name="recall-list"),
    path("recalls/start/", views_recalls.recall_start, name="recall-start"),
    path("recalls/scope/", views_recalls.recall_width, name="recall-width"),
    path("recalls/<str:code>/", views_recalls.recall_detail, name="recall-detail"),
    path("recalls/<str:code>/report.pdf", views_recalls.recall_report, name="recall-report"),
    path("recalls/<str:code>/widen/", views_recalls.recall_take_in, name="recall-take-in"),
    path("recalls/<str:code>/letters/", views_recalls.recall_letters, name="recall-letters"),
    path("recalls/<str:code>/close/", views_recalls.recall_close, name="recall-close"),
    path("recalls/<str:code>/customers/<int:pk>/", views_recalls.recall_party, name="recall-party"),
    path(
        "recalls/<str:code>/answers/<int:pk>/take-back/",
        views_recalls.recall_answer_take_back,
        name="recall-answer-take-back",
    ),
    path("trace/", views_trace.trace, name="trace"),
    path("trace/<str:code>/", views_trace.trace_code, name="trace-code"),
    path("trace/<str:code>/table/", views_trace.trace_rows, name="trace-rows"),
    path("trace/<str:code>/trace.pdf", views_trace.trace_sheet, name="trace-sheet"),
]
