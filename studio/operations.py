"""Migration operations of our own."""

from typing import Any

from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation, OperationCategory
from django.db.migrations.state import ProjectState


class CreateModels(Operation):
    """Create the tables of many models at once: for the initial migration of an app.

    Django draws every related model anew after each operation, which for a hundred models takes longer than making
    their tables. Here they are drawn once, after the last. A model stands after those it refers to.
    """

    category = OperationCategory.ADDITION

    def __init__(self, models: list[CreateModel]) -> None:
        self.models = models

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Add the models to the state, which is drawn when it is next asked for."""
        state.__dict__.pop("apps", None)
        for model in self.models:
            model.state_forwards(app_label, state)

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        """Make every table, with its constraints and indexes."""
        for model in self.models:
            model.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self, app_label: str, schema_editor: Any, from_state: ProjectState, to_state: ProjectState
    ) -> None:
        """Take the tables away, the last one first."""
        for model in reversed(self.models):
            model.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self) -> str:
        """What `migrate --plan` says."""
        return f"Create {len(self.models)} models"
