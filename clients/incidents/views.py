from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from clients.incidents.actions import add_to_incident, write_incident
from clients.incidents.forms import AdditionForm, IncidentForm
from clients.incidents.queries import get_incident_or_404
from clients.incidents.queries import incidents as all_incidents
from clients.incidents.tables import IncidentFilter, IncidentTable


@require_GET
@needs(Power.SEE_HEALTH)
def incidents(request: StaffRequest) -> HttpResponse:
    new = ("Write one down", reverse("clients:incident-new")) if request.user.may(Power.CHANGE_CARE) else None
    return render_list(
        request,
        table_class=IncidentTable,
        filterset=IncidentFilter(request.GET, queryset=all_incidents()),
        heading="Incident notes",
        new=new,
        empty=(
            "No incident note",
            "When something goes wrong around a horse or at a barn, write it down the same day: your insurer will ask.",
            *(new or ()),
        ),
    )


@require_GET
def incident(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_incident_or_404(request, pk)
    papers = sorted(found.papers.all(), key=lambda paper: paper.pk, reverse=True)
    return render(request, "clients/incidents/incident.html", {"incident": found, "papers": papers})


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
@needs(Power.SEE_HEALTH)
def incident_new(request: StaffRequest) -> HttpResponse:
    now = timezone.now()
    given = {name: request.GET.get(name, "")[:18] for name in ("animal", "barn")}
    initial = {name: value for name, value in given.items() if value.isdecimal()}
    form = IncidentForm(request.POST or None, initial={**initial, "happened_at": timezone.localtime(now)})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            found = write_incident(
                incident=form.instance, holds_horse=form.cleaned_data["holds_horse"], at=now, by=request.user
            )
        if not form.errors:
            messages.success(request, "Written down and locked. What becomes known later is added with its day.")
            return redirect(found)
    return render_form(
        request,
        form,
        heading="Write down what happened",
        submit="Save and lock",
        back=reverse("clients:incidents"),
        kicker="Incident note",
        intro="Is somebody or a horse hurt? First the doctor or the vet, then this. Once saved, it is only added to.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def incident_add(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_incident_or_404(request, pk)
    form = AdditionForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            add_to_incident(incident=found, text=form.cleaned_data["text"], at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, "Added, with today’s day and your name.")
            return redirect(found)
    return render_form(
        request,
        form,
        heading="Add to the incident note",
        submit="Add",
        back=found.get_absolute_url(),
        kicker=str(found.animal or found.barn),
    )
