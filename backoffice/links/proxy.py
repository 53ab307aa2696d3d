"""Whose request it is, where a proxy of ours stands before: tries are counted by the visitor, not by the proxy."""

from collections.abc import Callable
from ipaddress import ip_address

from django.conf import settings
from django.http import HttpRequest, HttpResponse


class BehindProxyMiddleware:
    """Takes the last address of X-Forwarded-For, the one that our proxy wrote; only with `settings.BEHIND_PROXY`."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if settings.BEHIND_PROXY:
            said = request.META.get("HTTP_X_FORWARDED_FOR", "").rpartition(",")[2].strip()
            if _is_address(said):
                request.META["REMOTE_ADDR"] = said
        return self.get_response(request)


def _is_address(said: str) -> bool:
    try:
        ip_address(said)
    except ValueError:
        return False
    return True
