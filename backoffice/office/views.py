from django.contrib import messages
from django.contrib.auth import login
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import NoReverseMatch, reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from backoffice.office.actions import change_business, set_up
from backoffice.office.forms import BusinessForm, WelcomeForm
from backoffice.office.hub import groups
from backoffice.team.queries import nobody_is_here
from backoffice.ui.forms import render_form, showing_refusal


@require_safe
@needs(Power.CHANGE_SETTINGS)
def settings(request: HttpRequest) -> HttpResponse:
    return render(request, "backoffice/office/settings.html", {"groups": groups()})


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def business(request: StaffRequest) -> HttpResponse:
    form = BusinessForm(request.POST or None, instance=the_business())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            change_business(values=form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "Saved. Papers already issued keep what they were issued with.")
            return redirect("backoffice:settings")
    back = reverse("backoffice:settings")
    return render_form(request, form, heading="Business", submit="Save", back=back, kicker="Settings")


@sensitive_post_parameters("password", "password_again")
@login_not_required
@never_cache
@require_http_methods(["GET", "POST"])
def welcome(request: HttpRequest) -> HttpResponse:
    """Open to anybody, but only until somebody has set the business up."""
    if not nobody_is_here():
        return redirect("backoffice:sign-in")
    form = WelcomeForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        password, business = form.cleaned_data["password"], form.business(timezone.localdate())
        account = set_up(
            business=business,
            owner_manager=form.owner_manager(),
            password=password,
            at=timezone.now(),
        )
        login(request, account, backend="django.contrib.auth.backends.ModelBackend")
        return redirect(_first_page())
    status = 422 if form.is_bound else 200
    return render(request, "backoffice/office/welcome.html", {"form": form}, status=status)


def _first_page() -> str:
    try:
        return reverse("backoffice:first-step", args=["where"])
    except NoReverseMatch:  # the money side may not be installed
        return reverse("backoffice:settings")
