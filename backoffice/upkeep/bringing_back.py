"""What was taken along, brought into a new and empty place. Passwords, passkeys and the seal key's private half were
left out: accounts get new passwords by `manage.py changepassword`, papers of before keep the seal that they have."""

import json
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any
from zipfile import BadZipFile, ZipFile

from django.contrib.auth.hashers import make_password
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction

from backoffice.refusal import Refused
from backoffice.upkeep import rows
from backoffice.upkeep.backup import Held, refuse_unless_empty, store
from backoffice.upkeep.taking_along import SECRET

IS_ZIP = b"PK\x03\x04"
NOT_OURS = "This is nothing that was taken along from here, or it is damaged."


def is_taken_along(path: Path) -> bool:
    with path.open("rb") as file:
        return file.read(4) == IS_ZIP


def bring_back(path: Path, *, at: datetime) -> Held:
    """All of it, or nothing."""
    refuse_unless_empty()
    stored: list[str] = []
    try:
        with transaction.atomic(), ZipFile(path) as packed:
            held = _read(packed, stored, at)
    except BaseException as wrong:
        for name in stored:
            default_storage.delete(name)
        if isinstance(wrong, IntegrityError | BadZipFile | KeyError | ValueError | OSError):
            raise Refused(NOT_OURS) from wrong
        raise
    return held


def _read(packed: ZipFile, stored: list[str], at: datetime) -> Held:
    names = set(packed.namelist())
    if "dictionary.csv" not in names:
        raise Refused(NOT_OURS)
    rows.empty_all()
    counts = {}
    for model in rows.tables():
        label, file = model._meta.label, f"tables/{model._meta.label}.json"
        if file in names:
            made = [rows.made(model, row | _left_out(label, row)) for row in json.loads(packed.read(file))]
            rows.put(model, made)
            counts[label] = len(made)
    for name in sorted(names):
        if name.startswith("files/") and not name.endswith("/"):
            store(name.removeprefix("files/"), packed.read(name), stored)
    rows.go_on_counting()
    return Held(at, counts, len(stored))


def _left_out(label: str, row: Mapping[str, Any]) -> dict[str, Any]:
    """What stands for a secret in a new place: something that opens nothing."""
    instead: dict[tuple[str, str], Any] = {
        ("backoffice.User", "password"): make_password(None),
        ("backoffice.PrivateLink", "token_hash"): f"left out {row.get('id')}",
        ("backoffice.SealKey", "encrypted_key"): "",
    }
    return {column: instead[table, column] for table, column in SECRET if table == label}
