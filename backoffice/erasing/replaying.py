"""Erasures are kept in a small file beside the database, so that a restored backup does not bring anybody back.

One line of JSON each: whose record (a number), when, and why. No personal text.
"""

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

from django.conf import settings

from backoffice.keeping.models import Erasure


def remember(erasure: Erasure) -> None:
    file = Path(settings.ERASURES_FILE)
    line = {"person": erasure.person_pk, "at": erasure.at.isoformat(), "asked": erasure.asked}
    if line in remembered():
        return
    file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with file.open("a", encoding="utf-8") as kept:
        kept.write(json.dumps(line) + "\n")


def remembered() -> list[dict[str, Any]]:
    file = Path(settings.ERASURES_FILE)
    if not file.exists():
        return []
    return [json.loads(line) for line in file.read_text(encoding="utf-8").splitlines() if line.strip()]


def missing() -> list[dict[str, Any]]:
    """Erasures of the file that this database does not know: it was restored from before them."""
    known = {(row.person_pk, row.at) for row in Erasure.objects.all()}
    return [line for line in remembered() if (line["person"], datetime.fromisoformat(line["at"])) not in known]


def count_looked_at() -> str:
    return f"{len(remembered())} erasures on file"


def faults_of_erasures() -> Iterator[str]:
    for line in missing():
        yield f"the erasure of person {line['person']} on {line['at'][:10]} is not in this database: replay it."
