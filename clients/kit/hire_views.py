"""A machine goes out and comes back."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.kit.actions import take_back
from clients.kit.forms import HandoverForm, TakeBackForm
from clients.kit.handing_over import hand_over, lines_for
from clients.kit.models import Hire


def get_hire_or_404(request: HttpRequest, pk: int) -> Hire:
    demand(request, Power.CHANGE_CARE)
    return get_object_or_404(Hire.objects.select_related("machine", "person"), pk=pk)


@require_http_methods(["GET", "POST"])
def hire_handover(request: StaffRequest, pk: int) -> HttpResponse:
    hire = get_hire_or_404(request, pk)
    form = HandoverForm(request.POST or None, lines=lines_for(hire.machine))
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            handover = hand_over(hire=hire, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"{hire.machine} is handed over; the sheet is sealed.")
            return redirect("backoffice:document", handover.document_id)
    return render_form(
        request,
        form,
        heading=f"Hand {hire.machine} over",
        submit="Sign",
        back=hire.machine.get_absolute_url(),
        kicker=f"On hire to {hire.person}",
        intro="Go through it together, and give the device to whoever takes the machine.",
        template="clients/kit/handover.html",
    )


@require_http_methods(["GET", "POST"])
def hire_back(request: StaffRequest, pk: int) -> HttpResponse:
    hire = get_hire_or_404(request, pk)
    form = TakeBackForm(request.POST or None, initial={"on": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            back = take_back(hire=hire, **form.cleaned_data, at=timezone.now(), by=request.user)
            late = f", {back.days_late} day{'' if back.days_late == 1 else 's'} late" if back.days_late else ""
            messages.success(request, f"{hire.machine} is back{late}. If something is broken, report the fault here.")
            return redirect(hire.machine)
    return render_form(
        request,
        form,
        heading=f"Take {hire.machine} back",
        submit="Take back",
        back=hire.machine.get_absolute_url(),
        kicker=f"On hire to {hire.person}",
    )
