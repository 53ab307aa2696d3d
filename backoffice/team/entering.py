"""From a right password to being signed in: half-way sessions, wrong steps that count as wrong sign-ins, sure hands."""

from collections.abc import Callable
from datetime import datetime
from functools import wraps
from typing import Any

from axes.handlers.proxy import AxesProxyHandler
from django.conf import settings
from django.contrib.auth import login
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme, urlencode

from backoffice.access.doors import StaffRequest
from backoffice.access.models import User
from backoffice.team.passkeys import Site

HALF, TWO_STEPS, SURE, CHALLENGE = "half_way", "two_steps", "sure_at", "passkey_challenge"
HALF_WAY_FOR = 300  # seconds
SURE_FOR = 900
PASSWORD_BACKEND = "django.contrib.auth.backends.ModelBackend"  # noqa: S105  # the name of a class


def site_of(request: HttpRequest) -> Site:
    host = request.get_host()
    return Site(host=host.rpartition(":")[0] or host, origin=f"{request.scheme}://{host}")


def begin_half_way(request: HttpRequest, account: User, at: datetime) -> None:
    """The password was right; who it is waits for the second step, and for five minutes only."""
    request.session.cycle_key()
    request.session[HALF] = {"account": account.pk, "at": at.timestamp()}


def half_way(request: HttpRequest, at: datetime) -> User | None:
    found = request.session.get(HALF) or {}
    if not found or at.timestamp() - found["at"] > HALF_WAY_FOR:
        return None
    return User.objects.filter(pk=found["account"], is_active=True).first()


def enter(request: HttpRequest, account: User, at: datetime, *, steps: int) -> None:
    request.session.pop(HALF, None)
    login(request, account, backend=PASSWORD_BACKEND)
    request.session[TWO_STEPS] = steps > 1
    request.session[SURE] = at.timestamp()


def may_try(request: HttpRequest, account: User) -> bool:
    return bool(AxesProxyHandler.is_allowed(request, {"username": account.username}))


def count_wrong(request: HttpRequest, account: User) -> None:
    """A wrong second step counts as a wrong sign-in: five close the door for a while."""
    user_login_failed.send(sender=__name__, credentials={"username": account.username}, request=request)


def way_on(request: HttpRequest) -> str:
    wanted = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return wanted if wanted and safe else str(settings.LOGIN_REDIRECT_URL)


def is_sure(request: HttpRequest) -> bool:
    return bool(timezone.now().timestamp() - request.session.get(SURE, 0) < SURE_FOR)


def surely(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """View decorator: whoever signed in longer than a quarter of an hour ago says their password once more."""

    @wraps(view)
    def asked(request: StaffRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if is_sure(request):
            return view(request, *args, **kwargs)
        back = request.get_full_path() if request.method == "GET" else reverse("backoffice:own-account")
        return redirect(f"{reverse('backoffice:own-sure')}?{urlencode({'next': back})}")

    return asked
