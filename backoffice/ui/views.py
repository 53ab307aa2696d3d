from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


@login_not_required
def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form was open too long or was sent twice; say so, with nothing about tokens."""
    return render(request, "backoffice/stale_form.html", status=403)
