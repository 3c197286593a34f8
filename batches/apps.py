"""Start-up of the batches package."""

from django.apps import AppConfig

from studio import panels
from studio.guards import Guard, append_only, guard

USED_VERSION = (
    "(EXISTS (SELECT 1 FROM batches_batch AS used WHERE used.version_id = {row}.{column}) "
    "OR EXISTS (SELECT 1 FROM batches_burntest AS burned WHERE burned.version_id = {row}.{column}) "
    "OR EXISTS (SELECT 1 FROM batches_statechange AS said WHERE said.version_id = {row}.{column} "
    "AND said.state = 'approved'))"
)
# What a burn test is of, and what a reading says; its end, and that it was a slip, are written on it once.
STARTED_WITH = ("version_id", "batch_id", "limits_id", "cycle_minutes", "plan", "started_by_id", "started_at")
READ = (
    "jar_id",
    "cycle",
    "minutes",
    "flame_um",
    "pool_um",
    "pool_depth_um",
    "full_pool_after",
    "mushrooming",
    "soot",
    "vessel_mc",
    "weight_ug",
    "note",
    "by_id",
    "at",
)
FROZEN_COLUMNS = (
    "formula_id",
    "number",
    "fill_ug",
    "declared_ug",
    "loss_ppm",
    "pot_ug",
    "division_ug",
    "heat_to_mc",
    "fragrance_at_mc",
    "pour_from_mc",
    "pour_to_mc",
    "rest_hours",
    "cure_days",
    "notes",
    "what_changed",
    "written_by_id",
    "written_at",
)


def _differs(columns: tuple[str, ...]) -> str:
    """Whether a row would get another value in any of these columns, in SQL."""
    return " OR ".join(f"NEW.{column} {{differs}} OLD.{column}" for column in columns)


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
        Guard("batches_burntest", "UPDATE", over, f"OLD.state <> 'running' OR {_differs(STARTED_WITH)}"),
        Guard("batches_burntest", "DELETE", "Burn tests are never deleted; break it off"),
        Guard(
            "batches_burntest",
            "INSERT",
            "Burn tests are never replaced",
            "EXISTS (SELECT 1 FROM batches_burntest AS kept WHERE kept.id = NEW.id)",
        ),
        Guard(
            reading,
            "UPDATE",
            "A reading is never changed; strike it out and read anew",
            f"OLD.struck_at IS NOT NULL OR NEW.struck_at IS NULL OR {_differs(READ)} OR {_decided('OLD')}",
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


class BatchesConfig(AppConfig):
    """Formulas, batches and tracing."""

    name = "batches"
    verbose_name = "Batches"

    def ready(self) -> None:
        """A formula version that was used never changes: the database refuses it."""
        from batches.late_cost_panel import batches_of_late_costs
        from batches.lot_panel import batch_of_posting, lot_history

        panels.add("lot", lot_history)
        panels.add("posting", batch_of_posting)
        panels.add("late-costs", batches_of_late_costs)
        message = "This formula version was used; write a new version"
        differs = _differs(FROZEN_COLUMNS)
        lines, versions = "batches_formulaline", "batches_formulaversion"
        of_line = USED_VERSION.replace("{column}", "version_id")
        of_version = USED_VERSION.format(row="OLD", column="id")
        # INSERT OR REPLACE would otherwise walk past the triggers on UPDATE and DELETE.
        replaced_line = f"EXISTS (SELECT 1 FROM {lines} AS kept WHERE kept.id = NEW.id)"
        replaced_version = (
            f"EXISTS (SELECT 1 FROM {versions} AS kept WHERE kept.formula_id = NEW.formula_id "
            f"AND kept.number = NEW.number AND {USED_VERSION.format(row='kept', column='id')})"
        )
        _guard_burn_tests()
        guard(
            *append_only("batches_draw", "Draws", "movement_id"),
            *append_only("batches_outcome", "Yields", "lot_id"),
            *append_only("batches_fillcheck", "Fill checks"),
            *append_only("batches_release", "Releases", "lot_id"),
            *append_only("batches_fillweight", "Net weights"),
            Guard(
                "batches_fillweight",
                "INSERT",
                "Net weights are never replaced; weigh again",
                "EXISTS (SELECT 1 FROM batches_fillweight AS kept "
                "WHERE kept.check_of_id = NEW.check_of_id AND kept.number = NEW.number)",
                name="number",
            ),
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
            Guard(versions, "UPDATE", message, f"{of_version} AND ({differs})"),
            Guard(versions, "DELETE", message, of_version),
        )
