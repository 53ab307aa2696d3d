"""The hash of an entry, so that nothing in the trail can be changed, removed or slipped in unnoticed."""

import hashlib
import json
from collections.abc import Mapping
from datetime import UTC, datetime


def entry_hash(
    *,
    number: int,
    at: datetime,
    by: int | None,
    via: str,
    action: str,
    target: str,
    target_pk: str,
    changes: Mapping[str, object],
    previous_hash: str,
) -> str:
    """SHA-256 (hex) over the canonical JSON of the entry's facts and the hash of the entry before it."""
    facts = [
        number,
        at.astimezone(UTC).isoformat(),
        by,
        via,
        action,
        target,
        target_pk,
        changes,
        previous_hash,
    ]
    text = json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
