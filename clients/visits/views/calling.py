from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.animals.queries import get_animal_or_404
from clients.visits.actions import call_later as put_off
from clients.visits.actions import list_again
from clients.visits.calls import calls, put_away
from clients.visits.forms import CallLaterForm


@require_GET
@needs(Power.CHANGE_CARE)
def calls_page(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    context = {"groups": calls(today).groups, "put_away": put_away(today), "today": today}
    return render(request, "clients/visits/calls.html", context)


@require_http_methods(["GET", "POST"])
def call_later(request: StaffRequest, animal_pk: int) -> HttpResponse:
    """A horse is put away until a day, or listed again at once."""
    animal = get_animal_or_404(request, animal_pk, Power.CHANGE_CARE)
    if request.method == "POST" and "again" in request.POST:
        list_again(animal=animal, at=timezone.now(), by=request.user)
        messages.success(request, f"{animal} is on the call list again.")
        return redirect("clients:calls")
    form = CallLaterForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            put_off(animal=animal, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"{animal} is put away until then.")
            return redirect("clients:calls")
    return render_form(
        request,
        form,
        heading=f"Call about {animal} later",
        submit="Put away",
        back=reverse("clients:calls"),
        kicker="Call list",
    )
