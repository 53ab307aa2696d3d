"""What the phone asks for: the shell and its keeper, who is signed in, the day to take along, and the one address that
takes entries."""

import json
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import wraps
from typing import Any
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_POST, require_safe

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.british import spoken
from backoffice.business.queries import the_business
from backoffice.refusal import Refused
from backoffice.ui.devices import say_device
from clients.barnside import shell
from clients.barnside.actions import REMOVED, let_in, receive
from clients.barnside.models import Phone
from clients.barnside.pack import days_along, pack_of
from clients.barnside.queries import is_removed
from clients.paperwork.views import device_of

MOST_AT_ONCE = 200


@login_not_required
@require_safe
def barn(request: HttpRequest) -> HttpResponse:
    """The shell: the same bytes for everybody, since a phone keeps it; it holds nobody's data."""
    return HttpResponse(_shell())


def _shell() -> str:
    return render_to_string(
        "clients/barnside/shell.html", {"icons": ("tick", "warning", "pen", "phone", "clock", "info")}
    )


@login_not_required
@require_safe
def keeper(request: HttpRequest) -> HttpResponse:
    """The service worker: it keeps the shell and answers where there is no signal."""
    kept = {"version": shell.version(_shell()), "shell": reverse("clients:barn-shell"), "addresses": shell.addresses()}
    script = f"self.kept = {json.dumps(kept)};\nimportScripts({json.dumps(static(shell.KEEPER))});\n"
    return HttpResponse(script, content_type="text/javascript", headers={"Cache-Control": "no-cache"})


@login_not_required
@require_safe
def manifest(request: HttpRequest) -> HttpResponse:
    """W3C Web Application Manifest, so that the day can stand on the phone's first screen."""
    sizes = [
        {"src": static(f"img/icon-{size}.png"), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
        for size in (192, 512)
        for purpose in ("any", "maskable")
    ]
    answer = {
        "id": reverse("clients:barn-shell"),
        "name": spoken("Back office, in the barn"),
        "short_name": spoken("In the barn"),
        "start_url": reverse("clients:barn-shell"),
        "scope": "/",
        "display": "standalone",
        "background_color": "#FAF7F1",
        "theme_color": "#FFFDF9",
        "icons": sizes,
    }
    return JsonResponse(answer, content_type="application/manifest+json")


def _for_a_phone(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """The view gets the phone that asks; a phone that is not let in gets 403 with the sentence."""

    @wraps(view)
    def answered(request: StaffRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        for power in (Power.SEE_HEALTH, Power.CHANGE_CARE):
            demand(request, power)
        key = _key(request)
        if key is None:
            return JsonResponse({"sentence": "This phone does not say which it is."}, status=400)
        try:
            phone = let_in(key=key, name=say_device(device_of(request)), at=timezone.now(), by=request.user)
        except Refused as refusal:
            return JsonResponse({"sentence": refusal.sentence, "removed": True}, status=403)
        return view(request, phone, *args, **kwargs)

    return answered


def _key(request: HttpRequest) -> UUID | None:
    try:
        return UUID(request.headers.get("X-Phone", ""))
    except ValueError:
        return None


@require_GET
@never_cache
def hello(request: StaffRequest) -> HttpResponse:
    """Who is signed in, a fresh token to send with, what time it is here, and whether this phone was removed."""
    demand(request, Power.CHANGE_CARE)
    told = {
        "person": request.user.pk,
        "name": str(request.user),
        "token": get_token(request),
        "now": int(timezone.now().timestamp() * 1000),
        "removed": REMOVED if is_removed(_key(request), request.user) else "",
    }
    return JsonResponse(told)


@require_GET
@never_cache
@_for_a_phone
def pack(request: StaffRequest, phone: Phone) -> HttpResponse:
    return JsonResponse(pack_of(days_along(timezone.localdate()), phone, the_business(), timezone.now()))


@require_POST
@_for_a_phone
def entries(request: StaffRequest, phone: Phone) -> HttpResponse:
    """The one address that takes what was written in the barn, a batch at a time."""
    now = timezone.now()
    try:
        sent = json.loads(request.body)
        rows, clock = sent["entries"], datetime.fromtimestamp(float(sent["now"]) / 1000, UTC)
    except (ValueError, KeyError, TypeError, OverflowError, OSError, RecursionError):
        return JsonResponse({"sentence": "This is no batch of entries."}, status=400)
    if not isinstance(rows, list) or len(rows) > MOST_AT_ONCE:
        return JsonResponse({"sentence": f"A batch holds {MOST_AT_ONCE} entries at most."}, status=400)
    answers = receive(phone=phone, entries=rows, drift=_drift(now, clock), at=now, by=request.user)
    told = [{"id": each.id, "state": each.state, "sentence": each.sentence} for each in answers]
    return JsonResponse({"answers": told, "now": int(now.timestamp() * 1000)})


def _drift(now: datetime, clock: datetime) -> timedelta:
    """The server's clock less the device's; seconds of travel are no drift."""
    drift = now - clock
    return drift if abs(drift) > timedelta(seconds=30) else timedelta(0)
