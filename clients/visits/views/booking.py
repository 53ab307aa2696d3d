from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.paperwork.permission import Permission
from clients.paperwork.queries import permission_for_each
from clients.visits.actions import (
    add_photo,
    book_visit,
    cancel_visit,
    confirm_time,
    is_late,
)
from clients.visits.forms import BookForm, CancelForm, MoveForm, VisitPhotoForm
from clients.visits.hours import first_free_start
from clients.visits.models import Visit
from clients.visits.notes import notes_of
from clients.visits.queries import taken_on, visit_with_sessions, work_of_visit
from clients.visits.spots import why_spot_stands_alone
from clients.visits.views.doors import get_visit_or_404


@require_GET
def visit(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk)
    whole = visit_with_sessions(found.pk)
    context = {
        "visit": whole,
        "permission": _permission(found) if found.is_open and request.user.may(Power.SEE_HEALTH) else None,
        "notes": notes_of(found) if found.is_open else [],
        "is_over": not found.is_open,
        "can_start": found.status == Visit.Status.BOOKED and found.day <= timezone.localdate(),
    }
    return render(request, "clients/visits/visit.html", context)


def _permission(visit: Visit) -> Permission:
    return permission_for_each([(visit.animal, work_of_visit(visit))], on=visit.day)[0]


@require_http_methods(["GET", "POST"])
def visit_book(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    permission = _permission(found)
    initial = {"starts": _proposal(found), "machine": found.machine_id}
    is_alone = bool(why_spot_stands_alone(found))
    form = BookForm(request.POST or None, visit=found, initial=initial, is_ready=permission.is_ready, is_spot=is_alone)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            book_visit(visit=found, **form.cleaned_data, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, f"Booked: {found} at {form.cleaned_data['starts']:%H:%M}.")
            return redirect(found)
    return visit_form(request, found, form, permission, heading=f"Book {found}", submit="Book visit")


def _proposal(visit: Visit) -> Any:
    return first_free_start(
        day=visit.day,
        practitioner=visit.practitioner,
        barn=visit.barn,
        minutes=visit.minutes,
        machine=visit.machine,
        animal=visit.animal,
        part=visit.part,
    )


def visit_form(
    request: StaffRequest,
    visit: Visit,
    form: BookForm | MoveForm,
    permission: Permission | None,
    *,
    heading: str,
    submit: str,
    day: date | None = None,
    template: str = "clients/visits/book.html",
    context: dict[str, Any] | None = None,
) -> HttpResponse:
    """A form about a visit, beside what its day holds already, or another `day` that is thought of."""
    day = day or visit.day
    beside = {
        "day": day,
        "visit": visit,
        "permission": permission if request.user.may(Power.SEE_HEALTH) else None,
        "notes": notes_of(visit),
        "windows": [window for window in visit.barn.windows.all() if window.holds_on(day)],
        "taken": sorted(
            (each for each in taken_on(day, besides=visit) if each.practitioner == visit.practitioner_id),
            key=lambda each: each.starts,
        ),
    }
    return render_form(
        request,
        form,
        heading=heading,
        submit=submit,
        back=visit.get_absolute_url(),
        kicker=str(visit.barn),
        template=template,
        context={**beside, **(context or {})},
    )


@require_POST
def visit_confirm(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    confirm_time(visit=found, at=timezone.now(), by=request.user)
    messages.success(request, "The time is marked as confirmed with the owner; no planning moves it.")
    return redirect(found)


@require_http_methods(["GET", "POST"])
def visit_cancel(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    form = CancelForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            found = cancel_visit(visit=found, reason=form.cleaned_data["reason"], at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, f"Cancelled: {found}{' (late)' if found.is_late_cancel else ''}.")
            return redirect(found)
    late = "It is late by your notice hours. " if is_late(found, at=timezone.now()) else ""
    return render_form(
        request,
        form,
        heading=f"Cancel {found}",
        submit="Cancel this visit",
        back=found.get_absolute_url(),
        kicker=str(found.barn),
        intro=f"{late}The visit stays in the record as cancelled; nothing is charged by itself.",
    )


@require_http_methods(["GET", "POST"])
def visit_photo(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.SEE_HEALTH)
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    form = VisitPhotoForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            add_photo(visit=found, **form.cleaned_data, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, "The photo is kept with the visit.")
            return redirect(found)
    return render_form(
        request, form, heading="A photo", submit="Keep the photo", back=found.get_absolute_url(), kicker=str(found)
    )
