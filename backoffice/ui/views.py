from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.templatetags.static import static
from django.views.decorators.http import require_safe


@login_not_required
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form was open too long or was sent twice; say so, with nothing about tokens."""
    return render(request, "backoffice/stale_form.html", status=403)


@login_not_required
@require_safe
def icon(request: HttpRequest) -> HttpResponse:
    """Where browsers look for a picture of the site when a page names none, as when they show a PDF."""
    return redirect(static("img/favicon.svg"))
