"""A day for a visit: a new one, or another one for a visit that is there, with the drive shown before it is saved."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from backoffice.ui.forms import render_form, showing_refusal
from clients.animals.models import Animal
from clients.kit.queries import machines_in_use
from clients.rounds.offers import Offers, cost_of_moving, days_for_a_new_visit, days_to_move_to
from clients.visits.actions import book_new_visit, move_visit, pencil_visit
from clients.visits.forms import MoveForm, VisitForm
from clients.visits.hours import first_free_start
from clients.visits.models import Visit
from clients.visits.queries import practitioners
from clients.visits.views.booking import visit_form
from clients.visits.views.doors import get_visit_or_404


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def visit_new(request: StaffRequest) -> HttpResponse:
    form = VisitForm(request.POST or None, initial=_new_initial(request))
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            found = _make(request, form)
        if not form.errors:
            messages.success(request, f"{found.get_status_display()}: {found}.")
            return redirect(found)
    return render_form(
        request,
        form,
        heading="New visit",
        submit="Save visit",
        back=reverse("clients:diary"),
        kicker="Diary",
        intro="With a time it is booked and checked; without one it is only pencilled.",
        template="clients/rounds/new_visit.html",
        context={"offers": _offers_for(form), "animal": form["animal"].value()},
    )


def _new_initial(request: StaffRequest) -> dict[str, Any]:
    first = practitioners().first()
    mine = request.user.pk if request.user.drives_rounds else (first.pk if first else None)
    machines = list(machines_in_use()[:2])
    only = machines[0].pk if len(machines) == 1 else None
    given = {name: request.GET[name] for name in ("animal", "day") if name in request.GET}
    return {"practitioner": mine, "machine": only, "day": timezone.localdate(), **given}


def _make(request: StaffRequest, form: VisitForm) -> Visit:
    data = dict(form.cleaned_data)
    starts = data.pop("starts")
    reasons = {name: data.pop(name) for name in VisitForm.REASONS if name in data}
    moment: dict[str, Any] = {"at": timezone.now(), "by": request.user}
    if starts is None:
        return pencil_visit(**data, **moment)
    return book_new_visit(**data, **moment, **reasons, starts=starts)


def _offers_for(form: VisitForm) -> Offers | None:
    """Days for the horse of the form, once one is chosen."""
    animal = _chosen(Animal.objects.select_related("barn").prefetch_related("barn__windows"), form["animal"].value())
    practitioner = _chosen(practitioners(), form["practitioner"].value())
    if animal is None or practitioner is None:
        return None
    return days_for_a_new_visit(animal.barn, practitioner, the_business(), timezone.localdate())


def _chosen(rows: Any, value: object) -> Any:
    return rows.filter(pk=value).first() if str(value).isdigit() else None


@require_http_methods(["GET", "POST"])
def visit_move(request: StaffRequest, pk: int) -> HttpResponse:
    """Another day or time. A day is saved only after its drive was shown: `weighed` names the day that was."""
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    form = MoveForm(request.POST or None, visit=found, initial=_move_initial(request, found))
    day, practitioner = found.day, found.practitioner
    if request.method == "GET":
        day = form.initial["day"]
    elif form.is_valid():
        day, practitioner = form.cleaned_data["day"], form.cleaned_data["practitioner"]
    cost = _cost(found, day, practitioner)
    seen = not cost or request.POST.get("weighed") == _key(day, practitioner)
    if request.method == "POST" and form.is_valid() and seen:
        data = {"starts": None, **form.cleaned_data}
        with showing_refusal(form):
            moved = move_visit(visit=found, **data, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, f"Moved: {moved}. Tell the owner; the time is to be confirmed again.")
            return redirect(moved)
    return visit_form(
        request,
        found,
        form,
        None,
        heading=f"Move {found}",
        submit="Move visit",
        day=day,
        template="clients/rounds/move_visit.html",
        context={
            "cost": cost,
            "is_chosen": day != found.day,
            "weighed": _key(day, practitioner),
            "look_again": request.method == "POST" and not seen,
            "offers": days_to_move_to(found, practitioner, the_business(), timezone.localdate()),
        },
    )


def _move_initial(request: HttpRequest, visit: Visit) -> dict[str, Any]:
    """The day that is asked for by address, with the first start that is free on it."""
    day = _day(request.GET.get("day", "")) or visit.day
    starts = visit.starts
    if starts is not None and day != visit.day:
        starts = first_free_start(
            day=day,
            practitioner=visit.practitioner,
            barn=visit.barn,
            minutes=visit.minutes,
            machine=visit.machine,
            animal=visit.animal,
            part=visit.part,
        )
    return {"day": day, "starts": starts, "practitioner": visit.practitioner_id, "machine": visit.machine_id}


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _cost(visit: Visit, day: date, practitioner: User) -> str:
    if day == visit.day and practitioner.pk == visit.practitioner_id:
        return ""
    return cost_of_moving(visit, day, practitioner, the_business())


def _key(day: date, practitioner: User) -> str:
    return f"{day.isoformat()}/{practitioner.pk}"


@require_GET
def visit_move_days(request: StaffRequest, pk: int) -> JsonResponse:
    """Day → the drive that the visit would add to it, in words: what the diary shows while a visit is dragged."""
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    offers = days_to_move_to(found, found.practitioner, the_business(), timezone.localdate())
    days = {offer.day.isoformat(): offer.extra for offer in (*offers.best, *offers.others)}
    return JsonResponse({"days": days, "unknown": offers.drive_unknown})
