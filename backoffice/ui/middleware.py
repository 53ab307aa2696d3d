"""What happens to a refusal that no view caught: nothing typed is lost, and the answer says that nothing was done."""

from collections.abc import Callable
from urllib.parse import urlsplit

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.http import url_has_allowed_host_and_scheme

from backoffice.refusal import Refused


class RefusedMiddleware:
    """A refused button comes back to its page with the sentence; a refused form or page becomes its own page (409)."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        way_back = page_before(request)
        if getattr(request, "htmx", False):
            return _in_place(request, exception.sentence)
        if way_back and _is_bare_button(request):
            messages.error(request, exception.sentence)
            return HttpResponse(status=303, headers={"Location": way_back})
        context = {"sentence": exception.sentence, "way_back": way_back}
        return render(request, "backoffice/refused.html", context, status=409)


def page_before(request: HttpRequest) -> str:
    """The page of ours that sent this request, as a path; empty when there is none or it is this very address."""
    came_from = request.META.get("HTTP_REFERER", "")
    ours = url_has_allowed_host_and_scheme(came_from, {request.get_host()}, require_https=request.is_secure())
    if not came_from or not ours:
        return ""
    parts = urlsplit(came_from)
    path = f"{parts.path}?{parts.query}" if parts.query else parts.path
    return "" if path == request.get_full_path() else path


def _is_bare_button(request: HttpRequest) -> bool:
    """A POST that carries nothing typed: going back by redirect loses nothing."""
    return request.method == "POST" and not request.FILES and set(request.POST) <= {"csrfmiddlewaretoken"}


def _in_place(request: HttpRequest, sentence: str) -> HttpResponse:
    messages.error(request, sentence)
    context = {"messages": messages.get_messages(request)}
    response = render(request, "ui/_messages.html", context, status=409)
    response["HX-Retarget"] = "#messages"
    response["HX-Reswap"] = "innerHTML"
    return response
