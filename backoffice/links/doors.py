"""The door of every page behind a private link: open to its holder, closed with one and the same page to all others."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache

from backoffice.links.actions import open_link
from backoffice.links.models import PrivateLink


def by_link(
    purpose: PrivateLink.Purpose,
) -> Callable[[Callable[..., HttpResponse]], Callable[..., HttpResponse]]:
    """View decorator: `view(request, link, …)` for a token that is good now, else a 404 page without a reason.

    Every answer says noindex and is not stored by caches; no referrer reaches another host (settings), so the token
    does not leak.
    """

    def decorate(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
        @login_not_required
        @never_cache
        @wraps(view)
        def guarded(request: HttpRequest, token: str, *args: Any, **kwargs: Any) -> HttpResponse:
            address = request.META.get("REMOTE_ADDR", "")
            ours = request.user.is_authenticated
            link = open_link(token=token, purpose=purpose, at=timezone.now(), address=address, is_ours=ours)
            if link is None:
                response = render(request, "backoffice/links/closed.html", status=404)
            else:
                response = view(request, link, token, *args, **kwargs)
            response["X-Robots-Tag"] = "noindex, nofollow"
            return response

        return guarded

    return decorate
