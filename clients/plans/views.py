from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.audit import actions as audit
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from clients.plans.actions import add_starter_guidelines, publish_version
from clients.plans.cadence import lay
from clients.plans.forms import BasePhases, GuidelineForm, PhaseFormSet, ServiceForm, VersionForm, phase_rows
from clients.plans.models import Guideline, GuidelineVersion, Service
from clients.plans.queries import guidelines, latest_version, phases_of, services
from clients.plans.strip import StripDay, strip_of
from clients.plans.tables import GuidelineFilter, GuidelineTable, ServiceFilter, ServiceTable

LONGEST_STRIP = 112


def get_service_or_404(request: HttpRequest, pk: int) -> Service:
    demand(request, Power.CHANGE_SETTINGS)
    return get_object_or_404(Service, pk=pk)


def get_guideline_or_404(request: HttpRequest, pk: int) -> Guideline:
    demand(request, Power.SEE_CARE)
    return get_object_or_404(guidelines(), pk=pk)


@require_GET
@needs(Power.CHANGE_SETTINGS)
def service_list(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=ServiceTable,
        filterset=ServiceFilter(request.GET, queryset=services()),
        heading="Services",
        new=("New service", reverse("clients:service-new")),
        empty=(
            "No service yet",
            "A full body and a spot are enough to plan and quote.",
            "New service",
            reverse("clients:service-new"),
        ),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def service_new(request: StaffRequest) -> HttpResponse:
    return _service(request, Service(), heading="New service")


@require_http_methods(["GET", "POST"])
def service_edit(request: StaffRequest, pk: int) -> HttpResponse:
    service = get_service_or_404(request, pk)
    return _service(request, service, heading=service.name)


def _service(request: StaffRequest, service: Service, *, heading: str) -> HttpResponse:
    form = ServiceForm(request.POST or None, instance=service)
    back = reverse("clients:services")
    if request.method == "POST" and form.is_valid():
        _save_service(form, request)
        messages.success(request, f"{service} is saved.")
        return redirect(back)
    return render_form(request, form, heading=heading, submit="Save service", back=back, kicker="Settings")


@audit.action
def _save_service(form: ServiceForm, request: StaffRequest) -> None:
    service = form.save()
    audit.record("service saved", service, at=timezone.now(), by=request.user, changes={"minutes": service.minutes})


@require_GET
@needs(Power.CHANGE_SETTINGS)
def guideline_list(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=GuidelineTable,
        filterset=GuidelineFilter(request.GET, queryset=guidelines()),
        heading="Guidelines",
        template="clients/plans/guidelines.html",
        new=("New guideline", reverse("clients:guideline-new")),
        empty=(
            "No guideline yet",
            "A guideline is your own rule of thumb for a goal; quotes are measured against it.",
            "New guideline",
            reverse("clients:guideline-new"),
        ),
    )


@require_POST
@needs(Power.CHANGE_SETTINGS)
def guideline_starters(request: StaffRequest) -> HttpResponse:
    added = add_starter_guidelines(at=timezone.now(), by=request.user)
    if added:
        messages.success(request, f"Added: {', '.join(str(each) for each in added)}. Read them and make them yours.")
    else:
        messages.info(request, "The starting texts are here already.")
    return redirect("clients:guidelines")


@require_GET
def guideline(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_guideline_or_404(request, pk)
    versions = list(found.versions.all())
    newest = versions[0] if versions else None
    context = {
        "guideline": found,
        "newest": newest,
        "strip": _strip(newest) if newest else [],
        "days": sum(phase.days for phase in newest.phases.all()) if newest else 0,
        "older": versions[1:],
    }
    return render(request, "clients/plans/guideline.html", context)


def _strip(version: GuidelineVersion) -> list[StripDay]:
    phases = phases_of(version.phases.all())
    days = min(sum(phase.days for phase in phases), LONGEST_STRIP)
    start = timezone.localdate()
    return strip_of(lay(phases, start, days), start, days)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def guideline_new(request: StaffRequest) -> HttpResponse:
    form = GuidelineForm(request.POST or None, prefix="guideline")
    return _guideline_form(request, [form], back=reverse("clients:guidelines"), heading="New guideline")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def guideline_version_new(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_guideline_or_404(request, pk)
    return _guideline_form(
        request,
        [],
        guideline=found,
        earlier=latest_version(found),
        back=found.get_absolute_url(),
        heading=f"New version of {found}",
    )


def _guideline_form(
    request: StaffRequest,
    forms: list[GuidelineForm],
    *,
    back: str,
    heading: str,
    guideline: Guideline | None = None,
    earlier: GuidelineVersion | None = None,
) -> HttpResponse:
    """The guideline (when new), its version and its phases on one page; all three are checked before any is kept."""
    initial = {} if earlier is None else {name: getattr(earlier, name) for name in VersionForm.Meta.fields}
    version = VersionForm(request.POST or None, prefix="version", initial=initial)
    rows = phase_rows(list(earlier.phases.all())) if earlier else None
    phases = PhaseFormSet(request.POST or None, prefix="phases", initial=rows)
    parts = [*forms, version]
    if request.method == "POST" and all([*(part.is_valid() for part in parts), phases.is_valid()]):
        with showing_refusal(version), transaction.atomic():
            kept = guideline or forms[0].save()
            _publish(kept, version, phases, request)
        if not version.errors:
            messages.success(request, f"{kept} is published. Quotes made from now on are measured against it.")
            return redirect(kept)
    wrong = request.method == "POST"
    context = {
        "parts": parts,
        "phases": phases,
        "heading": heading,
        "back": back,
        "guideline": guideline,
    }
    return render(request, "clients/plans/guideline_form.html", context, status=422 if wrong else 200)


def _publish(guideline: Guideline, version: VersionForm, phases: BasePhases, request: StaffRequest) -> None:
    data = version.cleaned_data
    publish_version(
        guideline=guideline,
        source=data["source"],
        phases=phases.phases(),
        tolerance_days=data["tolerance_days"],
        spot_needs_full_within=data["spot_needs_full_within"],
        until_vet_says=data["until_vet_says"],
        at=timezone.now(),
        by=request.user,
    )
