from collections.abc import Callable
from contextlib import nullcontext

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from backoffice import british
from backoffice.business.models import Business
from backoffice.business.queries import held, the_business

WITHOUT_PROFILE = "/health/"  # it must answer when the database does not


class BusinessTimeMiddleware:
    """One read of the profile a request (`request.business`), and its time zone and words for the whole of it."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        business = Business() if request.path == WITHOUT_PROFILE else the_business()
        request.business = business  # type: ignore[attr-defined]
        british.use(business.words)
        once = held(business) if request.method in ("GET", "HEAD") else nullcontext()
        with once, timezone.override(business.zone):
            return self.get_response(request)
