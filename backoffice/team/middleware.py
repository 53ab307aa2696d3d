"""On the way to every page: when somebody was last seen, and whether the business asks for a second step."""

from collections.abc import Callable

from django.contrib import messages
from django.contrib.auth import SESSION_KEY, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from backoffice.team.entering import TWO_STEPS
from backoffice.team.sessions import is_over, note_seen

SET_IT_UP = "This business asks for a second step when signing in. Set one up here, then go on."


class TeamMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if SESSION_KEY in request.session:
            now = timezone.now()
            if is_over(request, now):
                logout(request)
                return self.get_response(request)
            note_seen(request, now)
            if self._needs_second_step(request):
                messages.error(request, SET_IT_UP)
                return redirect("backoffice:own-account")
        return self.get_response(request)

    @staticmethod
    def _needs_second_step(request: HttpRequest) -> bool:
        asks = request.business.asks_second_step  # type: ignore[attr-defined]
        if not asks or request.session.get(TWO_STEPS):
            return False
        open_to_all = (reverse("backoffice:own-account"), reverse("backoffice:sign-out"), "/p/")
        return not request.path.startswith(open_to_all)
