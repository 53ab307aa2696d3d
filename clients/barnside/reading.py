"""An entry as it came over the wire, read or refused with one sentence. What is in it is checked by the forms."""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID

MOST_CHARS = {"photo": 1_500_000, "sign": 600_000}
MOST_CHARS_ELSE = 20_000
RAW_KEPT = 2_000


@dataclass(frozen=True, slots=True)
class Arrived:
    """What every entry says: `id` (UUID version 7), kind, person, visit, moment by the device, offset, values."""

    id: UUID
    kind: str
    person: int
    visit: int | None
    device_at: datetime
    offset: timedelta
    values: dict[str, Any]


class Unreadable(Exception):
    """The entry cannot be read. `id` is None where not even that can be."""

    def __init__(self, sentence: str, id: UUID | None = None) -> None:
        super().__init__(sentence)
        self.sentence, self.id = sentence, id


def read_id(raw: object) -> UUID:
    """An id of version 7 (RFC 9562), or Unreadable."""
    found = raw.get("id") if isinstance(raw, Mapping) else None
    try:
        id = UUID(found) if isinstance(found, str) else None
    except ValueError:
        id = None
    if id is None or id.version != 7:
        raise Unreadable("An entry without an id of its own is not taken.")
    return id


def read_entry(raw: object) -> Arrived:
    id = read_id(raw)
    assert isinstance(raw, Mapping)  # noqa: S101  (narrows the type)
    kind, values = raw.get("kind"), raw.get("values")
    if not isinstance(kind, str) or len(kind) > 12:
        raise Unreadable("The kind of this entry is not known.", id)
    if not isinstance(values, dict):
        raise Unreadable("This entry says nothing.", id)
    if len(json.dumps(values)) > MOST_CHARS.get(kind, MOST_CHARS_ELSE):
        raise Unreadable("This entry is too long to be taken; the first part of it is kept.", id)
    person, visit = raw.get("by"), raw.get("visit")
    if not _is_whole(person) or not (visit is None or _is_whole(visit)):
        raise Unreadable("This entry does not say whose it is.", id)
    return Arrived(id, kind, int(person), visit, _moment(raw, id), _offset(raw, id), values)  # type: ignore[arg-type]


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and 0 < value < 2**63


def _moment(raw: Mapping[str, Any], id: UUID) -> datetime:
    at = raw.get("at")
    if not isinstance(at, (int, float)) or isinstance(at, bool) or not 0 <= at < 4_102_444_800_000:
        raise Unreadable("This entry does not say when it was made.", id)
    return datetime.fromtimestamp(at / 1000, UTC)


def _offset(raw: Mapping[str, Any], id: UUID) -> timedelta:
    offset = raw.get("offset", 0)
    if not isinstance(offset, (int, float)) or isinstance(offset, bool) or abs(offset) > 4_102_444_800_000:
        raise Unreadable("This entry does not say how wrong its clock was.", id)
    return timedelta(milliseconds=offset)


def raw_part(raw: object) -> dict[str, str]:
    """The beginning of what could not be read, so that nothing is dropped."""
    return {"raw": json.dumps(raw, ensure_ascii=False)[:RAW_KEPT]}
