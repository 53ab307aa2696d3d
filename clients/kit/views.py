from calendar import monthrange
from datetime import date, timedelta

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.audit import actions as audit
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from clients.kit.actions import note_inspection, put_fault_right, report_fault
from clients.kit.forms import ApplicatorForm, FaultForm, InspectionForm, MachineForm, PutRightForm
from clients.kit.models import Applicator, Fault, Inspection, Machine
from clients.kit.queries import hire_calendar, hires_of, latest_inspections, machines, why_machine_is_not_free
from clients.kit.tables import ApplicatorFilter, ApplicatorTable, MachineFilter, MachineTable


def get_machine_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Machine:
    demand(request, power)
    return get_object_or_404(machines(), pk=pk)


def get_applicator_or_404(request: HttpRequest, pk: int) -> Applicator:
    demand(request, Power.CHANGE_CARE)
    return get_object_or_404(Applicator, pk=pk)


@require_GET
@needs(Power.SEE_CARE)
def machine_list(request: StaffRequest) -> HttpResponse:
    new = reverse("clients:machine-new")
    return render_list(
        request,
        table_class=MachineTable,
        filterset=MachineFilter(request.GET, queryset=machines()),
        heading="Machines",
        template="clients/kit/machines.html",
        new=("New machine", new) if request.user.may(Power.CHANGE_CARE) else None,
        empty=(
            "No machine yet",
            "A machine can be in one place only.",
            "New machine",
            new,
        ),
    )


@require_GET
def machine(request: StaffRequest, pk: int) -> HttpResponse:
    found, today = get_machine_or_404(request, pk), timezone.localdate()
    context = {
        "machine": found,
        "hires": hires_of(found),
        "inspections": latest_inspections(found),
        "faults": Fault.objects.filter(machine=found).select_related("reported_by"),
        "reading": found.readings.first(),
        "applicators": found.applicators.all(),
        "why_not": why_machine_is_not_free(found, today, today=today),
        "today": today,
        "may_put_right": request.user.may(Power.CHANGE_SETTINGS),
    }
    return render(request, "clients/kit/machine.html", context)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def machine_new(request: StaffRequest) -> HttpResponse:
    return _machine(request, Machine(), heading="New machine", back=reverse("clients:machines"))


@require_http_methods(["GET", "POST"])
def machine_edit(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_machine_or_404(request, pk, Power.CHANGE_CARE)
    return _machine(request, found, heading=found.name, back=found.get_absolute_url())


def _machine(request: StaffRequest, found: Machine, *, heading: str, back: str) -> HttpResponse:
    form = MachineForm(request.POST or None, instance=found, may_retire=request.user.may(Power.CHANGE_SETTINGS))
    if request.method == "POST" and form.is_valid():
        _keep(form, request, "machine saved")
        messages.success(request, f"{found} is saved.")
        return redirect(found)
    return render_form(request, form, heading=heading, submit="Save machine", back=back, kicker="Machines")


@audit.action
def _keep(form: MachineForm | ApplicatorForm, request: StaffRequest, name: str) -> None:
    audit.record(name, form.save(), at=timezone.now(), by=request.user)


@require_GET
@needs(Power.SEE_CARE)
def applicator_list(request: StaffRequest) -> HttpResponse:
    new = reverse("clients:applicator-new")
    return render_list(
        request,
        table_class=ApplicatorTable,
        filterset=ApplicatorFilter(request.GET, queryset=Applicator.objects.all()),
        heading="Applicators",
        new=("New applicator", new) if request.user.may(Power.CHANGE_CARE) else None,
        empty=(
            "No applicator yet",
            "Loops, pads and paddles: chosen by area.",
            "New applicator",
            new,
        ),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def applicator_new(request: StaffRequest) -> HttpResponse:
    return _applicator(request, Applicator(), heading="New applicator")


@require_http_methods(["GET", "POST"])
def applicator_edit(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_applicator_or_404(request, pk)
    return _applicator(request, found, heading=found.name)


def _applicator(request: StaffRequest, found: Applicator, *, heading: str) -> HttpResponse:
    form = ApplicatorForm(request.POST or None, instance=found)
    back = reverse("clients:applicators")
    if request.method == "POST" and form.is_valid():
        _keep(form, request, "applicator saved")
        messages.success(request, f"{found} is saved.")
        return redirect(back)
    return render_form(request, form, heading=heading, submit="Save applicator", back=back, kicker="Applicators")


@require_GET
@needs(Power.SEE_CARE)
def calendar(request: StaffRequest) -> HttpResponse:
    """A month of every machine: with whom it is, when it is free, and what keeps it in."""
    today = timezone.localdate()
    first = _month(request.GET.get("month", ""), today)
    last = first.replace(day=monthrange(first.year, first.month)[1])
    context = {
        "first": first,
        "today": today,
        "rows": hire_calendar(first, last, today=today),
        "before": first - timedelta(days=1),
        "after": last + timedelta(days=1),
    }
    return render(request, "clients/kit/calendar.html", context)


def _month(text: str, today: date) -> date:
    try:
        found = date.fromisoformat(f"{text}-01")
    except ValueError:
        return today.replace(day=1)
    return found if 1980 < found.year < 2100 else today.replace(day=1)


@require_http_methods(["GET", "POST"])
def inspection_new(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_machine_or_404(request, pk, Power.CHANGE_CARE)
    form = InspectionForm(request.POST or None, instance=Inspection(machine=found))
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            note_inspection(inspection=form.save(commit=False), at=timezone.now(), by=request.user)
            messages.success(request, "The inspection is written down.")
            return redirect(found)
    back = found.get_absolute_url()
    return render_form(request, form, heading="Looked over", submit="Save the inspection", back=back, kicker=found.name)


@require_http_methods(["GET", "POST"])
def fault_new(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_machine_or_404(request, pk, Power.CHANGE_CARE)
    form = FaultForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            report_fault(machine=found, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "The fault is written down. Look at what is booked with this machine.")
            return redirect(found)
    back = found.get_absolute_url()
    return render_form(request, form, heading="Something is wrong", submit="Report it", back=back, kicker=found.name)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def fault_put_right(request: StaffRequest, pk: int) -> HttpResponse:
    fault = get_object_or_404(Fault.objects.select_related("machine"), pk=pk)
    form = PutRightForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            put_fault_right(fault=fault, how=form.cleaned_data["how"], at=timezone.now(), by=request.user)
            messages.success(request, f"{fault.machine} may be used again.")
            return redirect(fault.machine)
    return render_form(
        request,
        form,
        heading="Put right",
        submit="Back into use",
        back=fault.machine.get_absolute_url(),
        kicker=fault.machine.name,
        intro=fault.seen,
    )
