import hashlib
import re
import secrets
from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.utils.crypto import salted_hmac

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.links.models import PrivateLink, WrongTry

TRIES = 20
TRIES_WITHIN = timedelta(minutes=15)
ONE_SITTING = timedelta(minutes=30)
NO_TOKEN = "x" * 43  # stands where one will, in a letter that is only read
TOKEN = re.compile(r"/[\w-]{43}(?![\w-])")  # 32 bytes in the alphabet of RFC 4648, section 5


def digest(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


@audit.action
def issue_link(
    *, purpose: PrivateLink.Purpose, target: models.Model, at: datetime, valid_for: timedelta, by: User | None
) -> tuple[PrivateLink, str]:
    """The link and its token: 256 random bits, shown this once and stored only as a hash."""
    token = secrets.token_urlsafe(32)
    link = PrivateLink.objects.create(
        purpose=purpose,
        target_pk=target.pk,
        token_hash=digest(token),
        made_at=at,
        made_by=by,
        expires_at=at + valid_for,
    )
    audit.record("private link made", link, at=at, by=by, changes={"purpose": purpose, "for": target.pk})
    return link, token


@audit.action
def revoke_links(*, purpose: PrivateLink.Purpose, target: models.Model, at: datetime, by: User | None) -> int:
    """Close every open link to the target. Returns how many there were."""
    links = list(
        PrivateLink.objects.select_for_update().filter(purpose=purpose, target_pk=target.pk, revoked_at__isnull=True)
    )
    for link in links:
        link.revoked_at = at
        link.save(update_fields=["revoked_at"])
        audit.record("private link withdrawn", link, at=at, by=by)
    return len(links)


def open_link(
    *, token: str, purpose: PrivateLink.Purpose, at: datetime, address: str, is_ours: bool = False
) -> PrivateLink | None:
    """The link that this token opens now, or None: unknown, of another purpose, ended, withdrawn, or too many tries.

    The hash is looked up, so the time taken says nothing about the token. Opening notes when, and counts sittings;
    it changes nothing else. It is not noted where the business looks at the page itself (`is_ours`).
    """
    who = salted_hmac("backoffice.links", address, algorithm="sha256").hexdigest()
    if WrongTry.objects.filter(address_digest=who, at__gt=at - TRIES_WITHIN).count() >= TRIES:
        return None
    link = PrivateLink.objects.filter(token_hash=digest(token), purpose=purpose).first()
    if link is None:
        WrongTry.objects.filter(at__lte=at - TRIES_WITHIN).delete()
        WrongTry.objects.create(address_digest=who, at=at)
        return None
    if not link.is_open(at):
        return None
    if not is_ours:
        _note_opening(link, at)
    return link


def _note_opening(link: PrivateLink, at: datetime) -> None:
    if link.last_opened_at is None or at - link.last_opened_at > ONE_SITTING:
        link.times_opened += 1
    link.first_opened_at = link.first_opened_at or at
    link.last_opened_at = at
    link.save(update_fields=["first_opened_at", "last_opened_at", "times_opened"])


def opens_nothing(text: str, at: datetime) -> bool:
    """Whether a private link in it is withdrawn or has ended."""
    hashes = [digest(found.removeprefix("/")) for found in TOKEN.findall(text)]
    return any(not link.is_open(at) for link in PrivateLink.objects.filter(token_hash__in=hashes))


def without_tokens(text: str) -> str:
    """The text with an ellipsis for what opens a private link."""
    return TOKEN.sub("/…", text)


def full_address(path: str) -> str:
    """An address that can be mailed."""
    return settings.PUBLIC_ADDRESS.rstrip("/") + path
