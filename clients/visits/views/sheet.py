from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.animals.areas import FULL_BODY, USUAL_MINUTES, names_same_place
from clients.animals.models import Caution
from clients.animals.queries import cautions_on, owners_on
from clients.kit.queries import applicators_in_use
from clients.paperwork.permission import Permission
from clients.paperwork.queries import permission_for_each
from clients.plans.models import Service
from clients.visits.actions import (
    complete_visit,
    could_not_work,
    note_list,
    set_next_visit,
    skip_next_visit,
    stop_for_the_vet,
    write_visit_report,
)
from clients.visits.forms import AreaFormSet, BaseAreas, CouldNotForm, NextForm, SheetForm, StopForm
from clients.visits.models import Session, StopList, Visit
from clients.visits.notes import notes_of
from clients.visits.queries import coming_visits, last_session, next_day_by_cadence, work_of_visit
from clients.visits.stop_lists import list_at
from clients.visits.views.doors import get_visit_or_404


@dataclass(frozen=True, slots=True)
class Sheet:
    """Everything about the horse that the sheet puts above its form."""

    visit: Visit
    permission: Permission
    cautions: list[Caution]
    last: Session | None
    notes: list[str]


def _sheet_of(visit: Visit) -> Sheet:
    permission = permission_for_each([(visit.animal, work_of_visit(visit))], on=visit.day)[0]
    return Sheet(
        visit=visit,
        permission=_without_cautions(permission),
        cautions=cautions_on([visit.animal], visit.day)[visit.animal_id],
        last=last_session(visit.animal_id, before=visit),
        notes=notes_of(visit),
    )


def _without_cautions(permission: Permission) -> Permission:
    """The cautions have their own place on the sheet."""
    return replace(permission, notes=tuple(note for note in permission.notes if note.code != "caution"))


@require_GET
def visit_sheet(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk, Power.SEE_HEALTH)
    if found.status != Visit.Status.BOOKED:
        messages.info(request, "The sheet is for a booked visit that has not been written up yet.")
        return redirect(found)
    sheet = _sheet_of(found)
    as_last = request.GET.get("as") == "last" and sheet.last is not None
    rows = _rows_as_last(sheet) if as_last else _rows_as_planned(sheet)
    areas = AreaFormSet(prefix="areas", initial=rows, form_kwargs={"applicators": list(applicators_in_use())})
    return _show(request, sheet, SheetForm(initial={"minutes": found.minutes}), areas, as_last=as_last)


@require_POST
def visit_complete(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    form = SheetForm(request.POST)
    areas = AreaFormSet(request.POST, prefix="areas", form_kwargs={"applicators": list(applicators_in_use())})
    if all([form.is_valid(), areas.is_valid()]):
        with showing_refusal(form):
            found = _complete(request, found, form, areas)
            _note_set_up(request, found, form)
        if not form.errors:
            write_visit_report(visit=found, at=timezone.now(), by=request.user)
            messages.success(request, f"{found.animal} is written up. Before you leave: when is the next visit?")
            return redirect("clients:visit-next", pk=found.pk)
    return _show(request, _sheet_of(found), form, areas, status=422)


def _complete(request: StaffRequest, visit: Visit, form: SheetForm, areas: BaseAreas) -> Visit:
    return complete_visit(
        visit=visit,
        arrival=form.arrival(),
        sessions=[form.session(visit.service, areas.areas())],
        note=form.cleaned_data["note"],
        override_reason=form.cleaned_data["override_reason"],
        at=timezone.now(),
        by=request.user,
    )


def _note_set_up(request: StaffRequest, visit: Visit, form: SheetForm) -> None:
    """The set-up list is asked once a stop: what was ticked on the first sheet there counts for all."""
    done = form.cleaned_data["set_up"]
    if done:
        note_list(
            kind=StopList.Kind.SET_UP,
            day=visit.day,
            practitioner=visit.practitioner,
            barn=visit.barn,
            done=done,
            at=timezone.now(),
            by=request.user,
        )


def _show(
    request: StaffRequest, sheet: Sheet, form: SheetForm, areas: BaseAreas, *, as_last: bool = False, status: int = 200
) -> HttpResponse:
    context = {
        "sheet": sheet,
        "visit": sheet.visit,
        "form": form,
        "areas": areas,
        "groups": _grouped(areas, [caution.area for caution in sheet.cautions]),
        "as_last": as_last,
        "set_up": list_at(StopList.Kind.SET_UP, sheet.visit.day, sheet.visit.practitioner, sheet.visit.barn),
        "is_early": sheet.visit.day > timezone.localdate(),
    }
    return render(request, "clients/visits/sheet.html", context, status=status)


def _rows_as_planned(sheet: Sheet) -> list[dict[str, Any]]:
    """A full body offers every place but those with a caution; a spot offers none until it is tapped."""
    is_full = sheet.visit.service.kind == Service.Kind.FULL
    cautions = [caution.area for caution in sheet.cautions]
    rows: list[dict[str, Any]] = [
        {
            "area": area.name,
            "minutes": USUAL_MINUTES,
            "is_done": is_full and area.is_offered and not _is_cautioned(area.name, cautions),
        }
        for area in FULL_BODY
    ]
    return [*rows, {"area": "", "minutes": USUAL_MINUTES}]


def _rows_as_last(sheet: Sheet) -> list[dict[str, Any]]:
    """Each place as it was worked last time; the other places stay open below. Cautioned ones are not ticked."""
    if sheet.last is None:
        return _rows_as_planned(sheet)
    cautions = [caution.area for caution in sheet.cautions]
    worked = {area.area: area for area in sheet.last.areas.all()}
    names = [area.name for area in FULL_BODY] + [name for name in worked if name not in {a.name for a in FULL_BODY}]
    rows = []
    for name in names:
        row: dict[str, Any] = {"area": name, "minutes": USUAL_MINUTES, "is_done": False}
        if name in worked:
            area = worked[name]
            row |= {
                "minutes": area.minutes,
                "applicator": area.applicator_id,
                "setting": area.setting,
                "is_done": not _is_cautioned(name, cautions),
            }
        rows.append(row)
    return [*rows, {"area": "", "minutes": USUAL_MINUTES}]


def _is_cautioned(area: str, cautions: list[str]) -> bool:
    return any(names_same_place(area, caution) for caution in cautions)


def _grouped(areas: BaseAreas, cautions: list[str]) -> list[dict[str, Any]]:
    """The rows of the form under the headings of the body's order, each with whether a caution names it."""
    group_of = {area.name: area.group for area in FULL_BODY}
    groups: dict[str, list[dict[str, Any]]] = {}
    for form in areas.forms:
        name = str(form["area"].value() or "")
        group = group_of.get(name, "Another place")
        groups.setdefault(group, []).append(
            {
                "form": form,
                "name": name if name in group_of else "",
                "caution": _is_cautioned(name, cautions),
                "used": form.used(),
            }
        )
    return [{"name": name, "rows": rows} for name, rows in groups.items()]


@require_http_methods(["GET", "POST"])
def visit_could_not(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    form = CouldNotForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            could_not_work(visit=found, **form.cleaned_data, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, "Written down. Whether it costs anything is decided on the money side.")
            return redirect("clients:visit-next", pk=found.pk)
    return render_form(
        request,
        form,
        heading=f"Could not work: {found.animal}",
        submit="Write it down",
        back=found.get_absolute_url(),
        kicker=str(found.barn),
    )


@require_http_methods(["GET", "POST"])
def visit_stop(request: StaffRequest, pk: int) -> HttpResponse:
    """Stop and call the vet: the numbers first, then what was seen, with its time."""
    found = get_visit_or_404(request, pk, Power.SEE_HEALTH)
    now = timezone.now()
    form = StopForm(request.POST or None, initial={"seen": f"{timezone.localtime(now):%H:%M} "})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            stop_for_the_vet(visit=found, seen=form.cleaned_data["seen"], at=now, by=request.user)
        if not form.errors:
            messages.success(request, f"Stopped. {found.animal} is on hold until the stop note is closed by name.")
            return redirect(found)
    context = {"visit": found, "owners": owners_on([found.animal], found.day)[found.animal_id], "now": now}
    return render_form(
        request,
        form,
        heading="Stop and call the vet",
        submit="Write it down and hold the horse",
        back=found.get_absolute_url(),
        kicker=f"{found.animal}, {found.barn}",
        template="clients/visits/stop.html",
        context=context,
    )


@require_http_methods(["GET", "POST"])
def visit_next(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_visit_or_404(request, pk, Power.CHANGE_CARE)
    proposed = next_day_by_cadence(found)
    form = NextForm(request.POST or None, initial={"day": proposed, "service": found.service_id})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            sentence = _leave(request, found, form)
        if not form.errors:
            messages.success(request, sentence)
            return redirect(found)
    ahead = coming_visits(found.animal, max(found.day + timedelta(days=1), timezone.localdate())).first()
    return render_form(
        request,
        form,
        heading="The next visit",
        submit="Keep",
        back=found.get_absolute_url(),
        kicker=f"{found.animal}, {found.barn}",
        template="clients/visits/next.html",
        context={"visit": found, "ahead": ahead, "proposed": proposed},
    )


def _leave(request: StaffRequest, visit: Visit, form: NextForm) -> str:
    day: date | None = form.cleaned_data["day"]
    reason, now = form.cleaned_data["reason"], timezone.now()
    if day is None or (reason and "day" not in form.changed_data):
        skip_next_visit(visit=visit, reason=reason, at=now, by=request.user)
        return f"{visit.animal} is on the call list."
    following = set_next_visit(visit=visit, day=day, service=form.cleaned_data["service"], at=now, by=request.user)
    return f"Pencilled: {following}."
