from datetime import timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.ui.forms import render_form, showing_refusal
from clients.plans.holiday_calendars import PREFIX
from clients.workdays import actions
from clients.workdays.forms import AbsenceForm, CalendarForm, HoursForm, OwnBaseForm
from clients.workdays.models import Absence, OwnBase
from clients.workdays.queries import (
    absences_between,
    closed_days,
    get_absence_or_404,
    holidays_ahead,
    hours_of,
    may_change_days_of,
)

SHOWN_AHEAD = timedelta(days=366)


def _people() -> list[User]:
    return list(User.objects.filter(is_active=True, drives_rounds=True).order_by("pk"))


@require_GET
@needs(Power.SEE_CARE)
def workdays(request: StaffRequest) -> HttpResponse:
    today, people = timezone.localdate(), _people()
    hours = hours_of(people)
    bases = {base.practitioner_id: base for base in OwnBase.objects.filter(practitioner__in=people)}
    context = {
        "people": [
            (each, hours[each.pk], bases.get(each.pk), may_change_days_of(request.user, each)) for each in people
        ],
        "absences": [
            (each, may_change_days_of(request.user, each.practitioner))
            for each in absences_between(today, today + SHOWN_AHEAD)
        ],
    }
    return render(request, "clients/workdays/workdays.html", context)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def absence_new(request: StaffRequest) -> HttpResponse:
    may_close = request.user.may(Power.CHANGE_SETTINGS)
    people = _people() if may_close else [request.user]
    initial: dict[str, Any] = {"practitioner": request.user.pk, "since": timezone.localdate()}
    form = AbsenceForm(request.POST or None, people=people, may_close=may_close, initial=initial)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            absence = actions.note_absence(absence=form.save(commit=False), at=timezone.now(), by=request.user)
            messages.success(request, f"Written down: {absence}. Look at the visits that stand in it.")
            year, number, _ = absence.since.isocalendar()
            return redirect(f"{reverse('clients:diary')}?week={year}-W{number:02}")
    return render_form(
        request,
        form,
        heading="Days away",
        submit="Save",
        back=reverse("clients:workdays"),
        kicker="Hours and days away",
        intro="Nothing new is booked in them. What is booked already stays where it is until you move it.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def holidays(request: StaffRequest) -> HttpResponse:
    """The public holidays of a year ahead; on those that are ticked the business is closed."""
    today, country = timezone.localdate(), "GB" if the_business().words == Business.Words.UK else "US"
    form = CalendarForm(request.GET if "calendar" in request.GET else None, first=country)
    calendar = form.cleaned_data["calendar"] if form.is_valid() else f"{PREFIX}{country}"
    ahead = holidays_ahead(calendar, today)
    if request.method == "POST":
        wanted = set(request.POST.getlist("closed"))
        days = {day: name for day, name in ahead.items() if day.isoformat() in wanted}
        closed = actions.close_days(days=days, at=timezone.now(), by=request.user)
        count = f"{len(closed)} day{'' if len(closed) == 1 else 's'}"
        messages.success(request, f"Closed on {count}. What is booked on them stays until you move it.")
        return redirect("clients:workdays")
    closed_already = closed_days(today, today + SHOWN_AHEAD)
    context = {
        "form": form,
        "calendar": calendar,
        "days": [(day, name, day in closed_already) for day, name in ahead.items()],
    }
    return render(request, "clients/workdays/holidays.html", context)


@require_POST
def absence_drop(request: StaffRequest, pk: int) -> HttpResponse:
    absence: Absence = get_absence_or_404(request, pk)
    actions.drop_absence(absence=absence, at=timezone.now(), by=request.user)
    messages.success(request, "Taken out again.")
    return redirect("clients:workdays")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def working_hours(request: StaffRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk, drives_rounds=True)
    form = HoursForm(request.POST or None, rows=hours_of([person])[person.pk])
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            actions.set_hours(practitioner=person, hours=form.hours(), at=timezone.now(), by=request.user)
            messages.success(request, f"The hours of {person} are set.")
            return redirect("clients:workdays")
    return render_form(
        request,
        form,
        heading=f"Hours of {person}",
        submit="Save the hours",
        back=reverse("clients:workdays"),
        kicker="Hours and days away",
        intro="A weekday without times is a day off. With no times at all the hours of the business hold every day.",
        template="clients/workdays/hours_form.html",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def own_base(request: StaffRequest, pk: int) -> HttpResponse:
    person = get_object_or_404(User, pk=pk, drives_rounds=True)
    there = OwnBase.objects.filter(practitioner=person).first()
    form = OwnBaseForm(request.POST or None, initial={"place": str(there) if there else ""})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            actions.set_own_base(
                practitioner=person, place=form.cleaned_data["place"], at=timezone.now(), by=request.user
            )
            messages.success(request, f"The days of {person} begin and end there. Plan their rounds again.")
            return redirect("clients:workdays")
    return render_form(
        request,
        form,
        heading=f"Base of {person}",
        submit="Save the base",
        back=reverse("clients:workdays"),
        kicker="Hours and days away",
        intro="Where their days begin and end. Prices by distance are reckoned from the base of the business.",
    )
