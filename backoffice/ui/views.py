from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.templatetags.static import static
from django.views.decorators.http import require_POST, require_safe

from backoffice.ui.middleware import page_before


@login_not_required
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form was open too long or was sent twice; say so, with nothing about tokens."""
    return render(request, "backoffice/stale_form.html", status=403)


@login_not_required
@require_safe
def icon(request: HttpRequest) -> HttpResponse:
    """Where browsers look for a picture of the site when a page names none, as when they show a PDF."""
    return redirect(static("img/favicon.svg"))


LOOK, OUTDOOR = "look", "outdoor"
YEAR = 365 * 24 * 3600


@require_POST
def look(request: HttpRequest) -> HttpResponse:
    """Black on white for bright sun, or back to what the device says. This device keeps it; no script is needed."""
    answer = redirect(page_before(request) or "/")
    if request.COOKIES.get(LOOK) == OUTDOOR:
        answer.delete_cookie(LOOK, samesite="Lax")
    else:
        answer.set_cookie(LOOK, OUTDOOR, max_age=YEAR, samesite="Lax", secure=request.is_secure())
    return answer
