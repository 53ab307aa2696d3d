"""The rows of every table as plain values, and back: exactly, to the microsecond and the cent, on any database."""

import base64
import json
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.apps import apps
from django.core.management.color import no_style
from django.db import connection, models

from backoffice.refusal import Refused

CHUNK = 2000
NOT_OURS = frozenset({"sessions", "axes", "contenttypes"})  # sign-ins of now, and what migrations make anew
MADE_BY_MIGRATIONS = frozenset({"auth.Permission"})
Model = type[models.Model]


def tables() -> list[Model]:
    """Every table that a backup holds, those between two others with them."""
    return [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.app_label not in NOT_OURS and model._meta.label not in MADE_BY_MIGRATIONS
    ]


def chunks_of(model: Model) -> Iterator[list[dict[str, Any]]]:
    """All rows, by key, a few thousand at a time."""
    names = [field.attname for field in model._meta.concrete_fields]
    rows = model._base_manager.order_by("pk")
    chunk = list(rows.values(*names)[:CHUNK])
    while chunk:
        yield chunk
        chunk = list(rows.filter(pk__gt=chunk[-1][_key(model)]).values(*names)[:CHUNK])


def _key(model: Model) -> str:
    return str(model._meta.pk.attname) if model._meta.pk else "pk"


def written(rows: list[dict[str, Any]]) -> bytes:
    """A line of JSON for each."""
    line = json.JSONEncoder(default=_plain, ensure_ascii=False, check_circular=False).encode
    return "".join(f"{line(row)}\n" for row in rows).encode()


def _plain(value: object) -> object:
    if isinstance(value, Decimal | UUID):
        return str(value)
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode()
    raise TypeError(f"{type(value).__name__} has no plain form.")


def read(model: Model, content: bytes) -> list[models.Model]:
    """The rows of one chunk as they were. Refuses what this version has no place for."""
    return [made(model, json.loads(line)) for line in content.split(b"\n")[:-1]]


def made(model: Model, row: dict[str, Any]) -> models.Model:
    """The row of its plain values."""
    fields = {field.attname: field for field in model._meta.concrete_fields}
    unknown = sorted(set(row) - set(fields))
    if unknown:
        raise Refused(f"This was made by another version: {model._meta.label} has no {unknown[0]} here.")
    return model(**{name: fields[name].to_python(value) for name, value in row.items()})


def put(model: Model, rows: list[models.Model]) -> None:
    model._base_manager.bulk_create(rows, batch_size=CHUNK)


def empty_all() -> None:
    """What migrations put into a new database; keys are checked at the end of the transaction."""
    for model in tables():
        model._base_manager.all()._raw_delete(connection.alias)


def go_on_counting() -> None:
    """The next new row gets a key that nobody has."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), tables()):
            cursor.execute(statement)
