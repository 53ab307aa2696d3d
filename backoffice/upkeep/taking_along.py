"""Everything as other programs read it: a ZIP of a table for each kind of record, as CSV and JSON, every file, and a
dictionary that says what each column is. To read, to leave with, and to begin with in a new place."""

import csv
import io
import json
from collections.abc import Iterator
from datetime import datetime
from typing import IO, Any
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile

from django.core.files.storage import default_storage

from backoffice.documents.models import Document
from backoffice.upkeep import rows
from backoffice.upkeep.backup import one_moment

SECRET = {  # of use to nobody but a thief
    ("backoffice.User", "password"),
    ("backoffice.PrivateLink", "token_hash"),
    ("backoffice.SealKey", "encrypted_key"),
    ("backoffice.Letter", "sealed"),
}
LEFT_OUT = frozenset(
    {
        "backoffice.WrongTry",
        "backoffice.Job",
        "backoffice.CodeApp",
        "backoffice.RecoveryCode",
        "backoffice.Passkey",
        "backoffice.SignedIn",
    }
)
Column = Any  # a field; Django's own is no generic at run time
FORMULA = ("=", "+", "-", "@", "\t", "\r")


def write_all(stream: IO[bytes], *, at: datetime) -> None:
    with ZipFile(stream, "w", ZIP_DEFLATED) as packed, one_moment():
        for model in _tables():
            _table(packed, model)
        packed.writestr("dictionary.csv", _csv(("table", "column", "kind", "refers to", "meaning"), _dictionary()))
        _files(packed)
        packed.writestr("READ ME.txt", READ_ME.format(at=f"{at:%Y-%m-%d %H:%M} UTC"))


READ_ME = """All records of this business, as of {at}.

tables/      one table for each kind of record, as CSV (UTF-8) and as JSON; they hold the same
files/       each PDF and photo under the name that the table backoffice.Document gives it
dictionary.csv   what each table and column is, and which other table it refers to

Amounts are in the currency of the business, moments in UTC. Passwords and keys are left out.
A new and empty place takes it in: manage.py restore FILE.
"""


def _tables() -> Iterator[rows.Model]:
    return (model for model in rows.tables() if model._meta.label not in LEFT_OUT)


def _columns(model: rows.Model) -> list[str]:
    named = (field.attname for field in model._meta.concrete_fields)
    return [name for name in named if (model._meta.label, name) not in SECRET]


def _table(packed: ZipFile, model: rows.Model) -> None:
    names, label = _columns(model), model._meta.label
    held = [json.loads(line) for chunk in rows.chunks_of(model) for line in rows.written(chunk).split(b"\n")[:-1]]
    kept = [{name: row[name] for name in names} for row in held]
    packed.writestr(f"tables/{label}.json", json.dumps(kept, ensure_ascii=False, indent=1))
    packed.writestr(f"tables/{label}.csv", _csv(names, ([_cell(row[name]) for name in names] for row in kept)))


def _cell(value: Any) -> str:
    """As text; what a spreadsheet would run as a formula is marked as text."""
    if value is None:
        return ""
    if isinstance(value, dict | list):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, str) and value.startswith(FORMULA) and not _is_number(value):
        return f"'{value}"
    return str(value)


def _is_number(value: str) -> bool:
    return value.removeprefix("-").replace(".", "", 1).isdecimal()


def _dictionary() -> Iterator[tuple[str, ...]]:
    for model in _tables():
        label, told = model._meta.label, " ".join((model.__doc__ or "").split())
        yield (label, "", "", "", str(model._meta.verbose_name) if told.startswith(f"{model.__name__}(") else told)
        names = set(_columns(model))
        for field in model._meta.concrete_fields:
            if field.attname in names:
                yield label, field.attname, field.get_internal_type(), _target(field), _meaning(field)


def _target(field: Column) -> str:
    return str(field.related_model._meta.label) if field.related_model else ""


def _meaning(field: Column) -> str:
    choices = ", ".join(f"{value}: {label}" for value, label in field.flatchoices)
    return ". ".join(str(part).rstrip(".") for part in (field.verbose_name, field.help_text, choices) if part)


def _files(packed: ZipFile) -> None:
    for name in Document.objects.filter(erased_at=None).order_by("pk").values_list("file", flat=True):
        try:
            with default_storage.open(name) as file:
                packed.writestr(f"files/{name}", file.read(), ZIP_STORED)
        except FileNotFoundError:  # erased since this moment
            continue


def _csv(heading: Any, lines: Any) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(heading)
    writer.writerows(lines)
    return "\ufeff" + out.getvalue()
