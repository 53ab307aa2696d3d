"""The doors. A view says which power it needs; a row door (`get_…_or_404` of each feature) calls `demand` as well."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse

from backoffice.access.models import User
from backoffice.access.powers import Power

View = Callable[..., HttpResponse]


class StaffRequest(HttpRequest):
    """A request behind the sign-in: its user is one of us."""

    user: User


def demand(request: HttpRequest, power: Power) -> None:
    """Raise PermissionDenied (our own 403 page) unless the signed-in person has the power."""
    user = request.user
    if not (isinstance(user, User) and user.may(power)):
        raise PermissionDenied(power)


def needs(power: Power) -> Callable[[View], View]:
    """View decorator: the signed-in person has this power."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            demand(request, power)
            return view(request, *args, **kwargs)

        return guarded

    return decorate
