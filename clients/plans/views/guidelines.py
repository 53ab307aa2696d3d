import re

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import one_summary, showing_refusal
from backoffice.ui.lists import render_list
from clients.plans.actions import add_starter_guidelines, publish_version
from clients.plans.drawing import Drawing, draw
from clients.plans.forms import BasePhases, GuidelineForm, PhaseFormSet, VersionForm, phase_rows
from clients.plans.models import Guideline
from clients.plans.queries import changes_between, guidelines, latest_version, phases_of
from clients.plans.tables import GuidelineFilter, GuidelineTable


def get_guideline_or_404(request: HttpRequest, pk: int) -> Guideline:
    demand(request, Power.SEE_CARE)
    return get_object_or_404(guidelines(), pk=pk)


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
    drawing = draw(phases_of(newest.phases.all()), timezone.localdate()) if newest else None
    context = {
        "guideline": found,
        "newest": newest,
        "drawing": drawing,
        "event": _event_sentence(drawing, newest.last_full_days_before if newest else None),
        "changed": changes_between(versions[1], versions[0]) if len(versions) > 1 else [],
        "older": [(version, changes_between(version, versions[0])) for version in versions[1:]],
    }
    return render(request, "clients/plans/guideline.html", context)


def _event_sentence(drawing: Drawing | None, days_before: int | None) -> str:
    return drawing.before_event(days_before) if drawing and days_before is not None else ""


@require_POST
@needs(Power.CHANGE_SETTINGS)
def guideline_draw(request: StaffRequest) -> HttpResponse:
    """The phases of the editor as they stand, drawn; nothing is kept. Without JavaScript on a page of its own."""
    phases = PhaseFormSet(request.POST, prefix="phases")
    phases.is_valid()
    days_before = request.POST.get("version-last_full_days_before", "")
    drawing = draw(phases.phases(), timezone.localdate())
    context = {
        "drawing": drawing,
        "event": _event_sentence(drawing, int(days_before) if re.fullmatch("[0-9]{1,2}", days_before) else None),
        "unread": [number for number, errors in enumerate(phases.errors, start=1) if errors],
    }
    htmx = request.htmx  # type: ignore[attr-defined]
    return render(request, f"clients/plans/{'_drawing' if htmx else 'drawing'}.html", context)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def guideline_new(request: StaffRequest) -> HttpResponse:
    form = GuidelineForm(request.POST or None, prefix="guideline")
    return _guideline_form(request, form, back=reverse("clients:guidelines"), heading="New guideline")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def guideline_version_new(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_guideline_or_404(request, pk)
    return _guideline_form(
        request, None, guideline=found, back=found.get_absolute_url(), heading=f"New version of {found}"
    )


def _guideline_form(
    request: StaffRequest,
    form: GuidelineForm | None,
    *,
    back: str,
    heading: str,
    guideline: Guideline | None = None,
) -> HttpResponse:
    """The guideline (when new), its phases and its version on one page; all are checked before any is kept."""
    earlier = latest_version(guideline) if guideline else None
    initial = {name: getattr(earlier, name) for name in VersionForm.Meta.fields} if earlier else {}
    goal = guideline.goal if guideline else request.POST.get("guideline-goal", "")
    version = VersionForm(request.POST or None, prefix="version", initial=initial, goal=goal)
    rows = phase_rows(list(earlier.phases.all())) if earlier else None
    phases = PhaseFormSet(request.POST or None, prefix="phases", initial=rows)
    if request.method == "POST" and all([form is None or form.is_valid(), version.is_valid(), phases.is_valid()]):
        with showing_refusal(version), transaction.atomic():
            kept = guideline or form.save()  # type: ignore[union-attr]
            _publish(kept, version, phases, request)
        if not version.errors:
            messages.success(request, f"{kept} is published. Quotes made from now on are measured against it.")
            return redirect(kept)
    shown = phases.phases() if phases.is_bound else phases_of(earlier.phases.all() if earlier else [])
    named = [(f"Phase {number}", row) for number, row in enumerate(phases.forms, start=1)]
    context = {
        "summary": one_summary([*([("", form)] if form else []), *named, ("", version)]),
        "form": form,
        "version": version,
        "phases": phases,
        "drawing": draw(shown, timezone.localdate()),
        "heading": heading,
        "back": back,
        "guideline": guideline,
    }
    return render(request, "clients/plans/guideline_form.html", context, status=422 if version.is_bound else 200)


def _publish(guideline: Guideline, version: VersionForm, phases: BasePhases, request: StaffRequest) -> None:
    data = version.cleaned_data
    publish_version(
        guideline=guideline,
        source=data["source"],
        phases=phases.phases(),
        tolerance_days=data["tolerance_days"],
        spot_needs_full_within=data["spot_needs_full_within"],
        last_full_days_before=data.get("last_full_days_before"),
        asks_vet=data.get("asks_vet", False),
        until_vet_says=data["until_vet_says"],
        at=timezone.now(),
        by=request.user,
    )
