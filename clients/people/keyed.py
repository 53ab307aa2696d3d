"""Digests that prove what was recorded about a person only for as long as the person's own key is kept."""

import hashlib
import hmac
import json
import secrets
from collections.abc import Sequence

from clients.people.models import Person, PersonKey


def keyed_digest(person: Person, parts: Sequence[object]) -> str:
    """HMAC-SHA-256 (hex) of the parts under the person's key, which is made at its first use. Call it in an action."""
    row, _is_new = PersonKey.objects.get_or_create(person=person, defaults={"key": secrets.token_bytes(32)})
    return digest_with(bytes(row.key), parts)


def digest_with(key: bytes, parts: Sequence[object]) -> str:
    text = json.dumps(list(parts), separators=(",", ":"), ensure_ascii=False)
    return hmac.new(key, text.encode(), hashlib.sha256).hexdigest()
