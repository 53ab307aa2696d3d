"""An empty database gets its tables in one go."""

from collections.abc import Sequence
from typing import Any

from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class CreateTogether(Operation):
    """What a first migration writes down one by one, worked out once: after each model that Django creates alone it
    builds all the others anew that lead to it, which for 150 of them takes ten seconds and more."""

    reversible = False

    def __init__(self, operations: Sequence[Operation]) -> None:
        self.operations = operations
        made = {name.lower() for name in self._names}
        for each in operations:
            about = getattr(each, "model_name", getattr(each, "name", ""))
            if about.lower() not in made:
                raise ValueError(f"{each.describe()}: not of a table that is created here.")

    def describe(self) -> str:
        return f"Create {len(self._names)} tables"

    @property
    def _names(self) -> list[str]:
        return [each.name for each in self.operations if isinstance(each, CreateModel)]

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        state.__dict__.pop("apps", None)  # else each of them is built as soon as it is named
        for each in self.operations:
            each.state_forwards(app_label, state)

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        for name in self._names:
            model = to_state.apps.get_model(app_label, name)
            if self.allow_migrate_model(schema_editor.connection.alias, model):
                schema_editor.create_model(model)
