from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from backoffice.access.doors import StaffRequest
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.kit.views import get_machine_or_404
from clients.visits.actions import hire_out
from clients.visits.forms import HireForm


@require_http_methods(["GET", "POST"])
def hire_new(request: StaffRequest, pk: int) -> HttpResponse:
    machine = get_machine_or_404(request, pk, Power.CHANGE_CARE)
    form = HireForm(request.POST or None, initial={"since": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            hire_out(machine=machine, **form.cleaned_data, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, f"{machine} is promised. It cannot be booked for visits in those days.")
            return redirect(machine)
    return render_form(
        request,
        form,
        heading=f"Hire out {machine}",
        submit="Hire out",
        back=machine.get_absolute_url(),
        kicker="Machines",
    )
