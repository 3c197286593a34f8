"""Start-up of the batches package."""

from django.apps import AppConfig

from studio import panels
from studio.guards import Guard, append_only, guard

USED_VERSION = "EXISTS (SELECT 1 FROM batches_batch AS used WHERE used.version_id = {row}.{column})"
FROZEN_COLUMNS = (
    "formula_id",
    "number",
    "fill_ug",
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
        differs = " OR ".join(f"NEW.{column} {{differs}} OLD.{column}" for column in FROZEN_COLUMNS)
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
            *append_only("batches_draw", "Draws", "movement_id"),
            *append_only("batches_outcome", "Yields", "lot_id"),
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
