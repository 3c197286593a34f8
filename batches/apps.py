"""Start-up of the batches package."""

from collections.abc import Sequence

from django.apps import AppConfig

from inventory.apps import CLOSED, closed_at
from studio.guards import Guard, append_only, differs, guard, kept

USED_VERSION = (
    "(EXISTS (SELECT 1 FROM batches_batch AS used WHERE used.version_id = {row}.{column}) "
    "OR EXISTS (SELECT 1 FROM batches_versioncorrection AS was WHERE was.before_id = {row}.{column}) "
    "OR EXISTS (SELECT 1 FROM batches_burntest AS burned WHERE burned.version_id = {row}.{column}) "
    "OR EXISTS (SELECT 1 FROM batches_statechange AS said WHERE said.version_id = {row}.{column} "
    "AND said.state = 'approved'))"
)
# What a burn test is of, and what a reading says; its end, and that it was a slip, are written on it once.
STARTED_WITH = ("version_id", "batch_id", "limits_id", "cycle_minutes", "plan", "started_by_id", "started_at")
READ = (
    "jar_id",
    "cycle",
    "kind",
    "minutes",
    "flame_um",
    "pool_um",
    "pool_depth_um",
    "full_pool_after",
    "mushrooming",
    "soot",
    "vessel_mc",
    "weight_ug",
    "wax_left_um",
    "went_out",
    "note",
    "by_id",
    "at",
)
WRITTEN = ("formula_id", "number", "what_changed", "written_by_id", "written_at")


def _decided(row: str) -> str:
    """Whether the burn test of a reading's jar, NEW or OLD, was decided, in SQL."""
    return (
        "EXISTS (SELECT 1 FROM batches_burntest AS t JOIN batches_burnjar AS j ON j.test_id = t.id "
        f"WHERE j.id = {row}.jar_id AND t.state <> 'running')"
    )


def _guard_burn_tests() -> None:
    """Burn tests, their jars and readings, the limits, and changes of state: added, and never changed afterwards."""
    over, reading = "A burn test that was decided is never changed; start a new one", "batches_burnreading"
    guard(
        *append_only("batches_statechange", "Changes of state"),
        *append_only("batches_burnlimits", "Burn limits"),
        *append_only("batches_burnjar", "Jars of a burn test"),
        *append_only("batches_burnphoto", "Photos of a burn test"),
        Guard("batches_burntest", "UPDATE", over, f"OLD.state <> 'running' OR {differs(*STARTED_WITH)}"),
        *kept("batches_burntest", "Burn tests", instead="break it off"),
        Guard(
            reading,
            "UPDATE",
            "A reading is never changed; strike it out and read anew",
            f"OLD.struck_at IS NOT NULL OR NEW.struck_at IS NULL OR {differs(*READ)} OR {_decided('OLD')}",
        ),
        Guard(reading, "DELETE", "Readings are never deleted; strike it out"),
        Guard(reading, "INSERT", over, _decided("NEW")),
        Guard(
            reading,
            "INSERT",
            "Readings are never replaced; strike it out and read anew",
            f"EXISTS (SELECT 1 FROM {reading} AS kept WHERE kept.id = NEW.id OR (kept.jar_id = NEW.jar_id "
            "AND kept.cycle = NEW.cycle AND kept.struck_at IS NULL AND NEW.struck_at IS NULL))",
            name="replaced",
        ),
    )


def _guard_complaints() -> None:
    """What was changed of a complaint, and what a recall froze, told and got back: added, and never changed."""
    photo = "batches_complaintphoto"
    erased = "Photos of a complaint are never changed, only erased"
    guard(
        *append_only("batches_complaintchange", "Changes of a complaint"),
        *kept(photo, "Photos of a complaint", instead="erase what they show"),
        Guard(
            photo,
            "UPDATE",
            erased,
            f"{differs('complaint_id', 'media_type', 'digest', 'by_id', 'at')} OR LENGTH(NEW.data) > 0",
        ),
        *append_only("batches_recallstep", "Steps of a recall"),
        *append_only("batches_recalllot", "Lots of a recall"),
        *append_only("batches_recallbatch", "Batches of a recall"),
        *append_only("batches_recallsent", "Goods of a recall"),
        *append_only("batches_recallanswer", "Answers to a recall"),
        *append_only("batches_recallparty", "Customers of a recall"),
        Guard(
            "batches_recall",
            "UPDATE",
            "A recall that was closed is never changed",
            f"OLD.state = 'closed' OR {differs('code', 'is_drill', 'why', 'started_by_id', 'started_at')}",
        ),
        *kept("batches_recall", "Recalls", "code", instead="close it"),
        *kept("batches_complaint", "Complaints", "code", instead="erase the names"),
        Guard(
            "batches_complaint",
            "UPDATE",
            "What was erased of a complaint does not come back, nor is it taken down by somebody else",
            f"{differs('code', 'taken_by_id', 'taken_at')} OR (OLD.erased_at IS NOT NULL AND "
            f"({differs('customer_id', 'reference', 'what', 'answer', 'erased_at')}))",
        ),
    )


def _guard_runs() -> None:
    """What a run was planned as, what was read and who worked how long."""
    guard(
        *kept("batches_batch", "Batches", "code", instead="call it off"),
        Guard(
            "batches_batch",
            "UPDATE",
            "A run stays what it was planned as; call it off and plan another",
            f"{differs('code', 'order_line_id', 'planned_by_id', 'planned_at')} OR ({differs('version_id')} "
            "AND NOT EXISTS (SELECT 1 FROM batches_versioncorrection AS said WHERE said.batch_id = OLD.id "
            "AND said.before_id = OLD.version_id AND said.after_id = NEW.version_id)) "
            f"OR (OLD.state <> 'planned' AND ({differs('quantity', 'planned_on')}))",
        ),
        *append_only("batches_versioncorrection", "Corrections of a version"),
        *append_only("batches_reading", "Readings"),
        *append_only("batches_struckreading", "Readings that were struck out", "reading_id"),
        *append_only("batches_labour", "Minutes worked", "takes_back_id"),
        Guard(
            "batches_labour",
            "INSERT",
            "What takes minutes back takes back all of them, of the same work, and once",
            "NEW.takes_back_id IS NOT NULL AND NOT EXISTS (SELECT 1 FROM batches_labour AS kept "
            "WHERE kept.id = NEW.takes_back_id AND kept.takes_back_id IS NULL AND kept.minutes = -NEW.minutes "
            "AND kept.batch_id = NEW.batch_id AND kept.person_id = NEW.person_id AND kept.step = NEW.step "
            "AND kept.by_owner = NEW.by_owner)",
            name="TAKES_BACK",
        ),
    )


def _guard_output() -> None:
    """What went in and came out, what was checked, released and entered at the bench: added, and never changed."""
    guard(
        *append_only("batches_draw", "Draws", "movement_id"),
        *append_only("batches_outcome", "Yields", "begins_id", "emptied_id"),
        Guard(
            "batches_outcome",
            "INSERT",
            "A lot is one result of one batch, once at a time; yields are never replaced",
            "EXISTS (SELECT 1 FROM batches_outcome AS kept WHERE kept.lot_id = NEW.lot_id AND "
            "(kept.batch_id <> NEW.batch_id OR kept.result <> NEW.result OR NOT EXISTS "
            "(SELECT 1 FROM inventory_posting AS undone WHERE undone.reverses_id = kept.posting_id)))",
            name="once",
        ),
        Guard(
            "batches_outcome",
            "INSERT",
            "The first yield of a lot is the one that begins it",
            "NEW.lot_id IS NOT NULL AND NEW.begins_id IS NULL AND NOT EXISTS "
            "(SELECT 1 FROM batches_outcome AS kept WHERE kept.lot_id = NEW.lot_id)",
            name="begins",
        ),
        *append_only("batches_flaw", "Defects of seconds"),
        *append_only("batches_fillcheck", "Fill checks"),
        *append_only("batches_hazardlabel", "Label elements"),
        *append_only("batches_hazardsource", "Sources of label elements"),
        *append_only("batches_release", "Releases", "lot_id"),
        *append_only("batches_fillweight", "Net weights"),
        *append_only("batches_benchentry", "Entries made at the bench", "key"),
        *append_only("batches_batchnote", "Notes of a batch"),
        *append_only("batches_batchend", "Ends of batches"),
        Guard("batches_batchend", "INSERT", CLOSED, closed_at("NEW.happened_at"), name="closed"),
        *append_only("batches_batchphoto", "Photos of a batch"),
        Guard(
            "batches_fillweight",
            "INSERT",
            "Net weights are never replaced; weigh again",
            "EXISTS (SELECT 1 FROM batches_fillweight AS kept "
            "WHERE kept.check_of_id = NEW.check_of_id AND kept.number = NEW.number)",
            name="number",
        ),
    )


def _guard_formulas(process: Sequence[str]) -> None:
    """A formula version that was used never changes. `process`: the columns of how it is made."""
    message = "This formula version was used; write a new version"
    written = differs(*WRITTEN, *process)
    lines, versions = "batches_formulaline", "batches_formulaversion"
    of_line = USED_VERSION.replace("{column}", "version_id")
    of_version = USED_VERSION.format(row="OLD", column="id")
    # INSERT OR REPLACE would otherwise walk past the triggers on UPDATE and DELETE.
    replaced_line = f"EXISTS (SELECT 1 FROM {lines} AS kept WHERE kept.id = NEW.id)"
    replaced_version = (
        f"EXISTS (SELECT 1 FROM {versions} AS kept WHERE kept.formula_id = NEW.formula_id "
        f"AND kept.number = NEW.number AND {USED_VERSION.format(row='kept', column='id')})"
    )
    guard(
        Guard(lines, "INSERT", message, f"{of_line.replace('{row}', 'NEW')} OR {replaced_line}"),
        Guard(
            lines,
            "UPDATE",
            message,
            f"{of_line.replace('{row}', 'OLD')} OR {of_line.replace('{row}', 'NEW')}",
        ),
        Guard(lines, "DELETE", message, of_line.replace("{row}", "OLD")),
        Guard(
            versions,
            "INSERT",
            message,
            f"{USED_VERSION.format(row='NEW', column='id')} OR {replaced_version}",
        ),
        Guard(versions, "UPDATE", message, f"{of_version} AND ({written})"),
        Guard(versions, "DELETE", message, of_version),
    )


class BatchesConfig(AppConfig):
    """Formulas, batches and tracing."""

    name = "batches"
    verbose_name = "Batches"

    def ready(self) -> None:
        """Name the rules that the database itself keeps."""
        from batches.models.formulas import PROCESS

        _guard_formulas(PROCESS)
        _guard_burn_tests()
        _guard_complaints()
        _guard_runs()
        _guard_output()
