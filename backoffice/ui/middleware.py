from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from backoffice.refusal import Refused


class RefusedMiddleware:
    """A `Refused` that no view caught becomes our own page with its sentence and the way back, status 409."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        if not isinstance(exception, Refused):
            return None
        return render(request, "backoffice/refused.html", {"sentence": exception.sentence}, status=409)
