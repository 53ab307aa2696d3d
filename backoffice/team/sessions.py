"""Where somebody is signed in: noted as they sign in, kept up to date, ended from afar."""

import logging
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out, user_login_failed
from django.contrib.sessions.models import Session
from django.db.models import QuerySet
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.team.models import SignedIn
from backoffice.ui.devices import say_device

logger = logging.getLogger(__name__)
NOTED_EVERY = timedelta(minutes=10)
SEEN, BEGAN = "seen", "began"
QUIET = timedelta(days=7)  # a phone that a barn swallowed does not stay signed in
AT_MOST = timedelta(days=30)  # NIST SP 800-63B-4, reauthentication at AAL1; value from memory


@receiver(user_logged_in)
def note_sign_in(sender: Any, request: HttpRequest, user: User, **kwargs: Any) -> None:
    if request.session.session_key is None:
        request.session.save()
    now = timezone.now()
    logger.info("signed in: account %s from %s", user.pk, request.META.get("REMOTE_ADDR", ""))
    request.session[SEEN] = request.session[BEGAN] = now.timestamp()
    SignedIn.objects.update_or_create(
        session_key=request.session.session_key,
        defaults={
            "account": user,
            "device": say_device(request.META.get("HTTP_USER_AGENT", "")),
            "address": request.META.get("REMOTE_ADDR") or None,
            "began_at": now,
            "seen_at": now,
        },
    )


@receiver(user_login_failed)
def log_wrong_sign_in(
    sender: Any, credentials: dict[str, Any], request: HttpRequest | None = None, **kwargs: Any
) -> None:
    """Never the password; the name as it was typed, in quotes, so that it cannot pretend to be a line of its own."""
    address = request.META.get("REMOTE_ADDR", "") if request else ""
    logger.warning("wrong sign-in as %r from %s", str(credentials.get("username", ""))[:150], address)


@receiver(user_logged_out)
def note_sign_out(sender: Any, request: HttpRequest, user: User | None, **kwargs: Any) -> None:
    SignedIn.objects.filter(session_key=request.session.session_key).delete()


def is_over(request: HttpRequest, at: datetime) -> bool:
    """Nobody was seen for a week, or the sign-in is a month old."""
    now = at.timestamp()
    quiet, age = (now - request.session.get(since, now) for since in (SEEN, BEGAN))
    return bool(quiet > QUIET.total_seconds() or age > AT_MOST.total_seconds())


def note_seen(request: HttpRequest, at: datetime) -> None:
    """Every ten minutes at most, so that a page costs nothing more."""
    if at.timestamp() - request.session.get(SEEN, at.timestamp()) < NOTED_EVERY.total_seconds():
        return
    request.session[SEEN] = at.timestamp()
    SignedIn.objects.filter(session_key=request.session.session_key).update(seen_at=at)


def signed_in_of(account: User, at: datetime) -> QuerySet[SignedIn]:
    """The sessions that still stand."""
    standing = Session.objects.filter(expire_date__gt=at).values("session_key")
    return SignedIn.objects.filter(account=account, session_key__in=standing)


def elsewhere(account: User, request: HttpRequest) -> list[SignedIn]:
    """Where the account is signed in, but for the session of this request."""
    return list(SignedIn.objects.filter(account=account).exclude(session_key=request.session.session_key))


@audit.action
def end_sessions(*, account: User, places: Iterable[SignedIn], at: datetime, by: User) -> int:
    keys = [place.session_key for place in places]
    Session.objects.filter(session_key__in=keys).delete()
    SignedIn.objects.filter(session_key__in=keys).delete()
    audit.record("signed out from afar", account, at=at, by=by, changes={"sessions": len(keys)})
    return len(keys)


def forget_ended(at: datetime) -> int:
    """What the night sweeps: notes of sessions that ended by themselves."""
    standing = Session.objects.filter(expire_date__gt=at).values("session_key")
    return SignedIn.objects.exclude(session_key__in=standing).delete()[0]
