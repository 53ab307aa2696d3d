from datetime import datetime
from typing import Any, Protocol

from django.db import models

from backoffice.access.models import User
from backoffice.audit import actions as audit


class SavableForm(Protocol):
    """A valid model form."""

    instance: Any

    @property
    def changed_data(self) -> list[str]: ...

    def save(self) -> Any: ...


@audit.action
def write_down(*, form: SavableForm, at: datetime, by: User) -> models.Model:
    """Save a record that has no rules beyond its form's, and note which fields were filled in or changed."""
    is_new = form.instance.pk is None
    record: models.Model = form.save()
    word = str(record._meta.verbose_name)
    changes = {"fields": list(form.changed_data)}
    audit.record(f"{word} {'added' if is_new else 'changed'}", record, at=at, by=by, changes=changes)
    return record
