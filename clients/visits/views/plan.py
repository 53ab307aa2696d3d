from collections import Counter
from collections.abc import Callable
from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest
from backoffice.access.powers import Power
from backoffice.refusal import Refused
from backoffice.ui.forms import render_form, showing_refusal
from clients.plans.actions import allow_spots_alone, finish_plan, pause_plan, review_plan, run_plan, stop_plan
from clients.plans.back_planning import NoStart, plan_back
from clients.plans.cadence import say_date
from clients.plans.days_off import say_days_off
from clients.plans.forms import ReviewForm, SpotsAloneForm, StartForm
from clients.plans.models import Plan
from clients.plans.queries import planned_sessions, schedule_of
from clients.plans.strip import strip_of
from clients.visits.actions import book_all, move_plan_start, propose_visits
from clients.visits.models import Visit
from clients.visits.queries import visits_of_plan
from clients.visits.spots import say_spots_alone, spots_alone_in
from clients.visits.views.doors import get_plan_or_404

LONGEST_STRIP = 112


@require_GET
def plan(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_plan_or_404(request, pk)
    expansion = planned_sessions(found)
    its_visits = visits_of_plan(found)
    done = Counter(visit.status for visit in its_visits)
    there = {(visit.planned_day, visit.part) for visit in its_visits}
    today = timezone.localdate()
    missing = [each for each in expansion.sessions if each.on >= today and (each.on, each.part) not in there]
    context = {
        "plan": found,
        "strip": strip_of(expansion.sessions, found.start, min(found.days, LONGEST_STRIP)),
        "notices": expansion.notices,
        "days_off": say_days_off(found.days_off, found.on_day_off),
        "spots_alone": say_spots_alone(found, spots_alone_in(found, expansion.sessions)),
        "can_move": found.state in (Plan.State.PROPOSED, Plan.State.RUNNING)
        and all(visit.status == Visit.Status.PENCILLED for visit in its_visits),
        "planned": len(expansion.sessions),
        "visits": its_visits,
        "completed": done[Visit.Status.COMPLETED],
        "pencilled": done[Visit.Status.PENCILLED],
        "missing": len(missing),
        "is_open": found.state in (Plan.State.PROPOSED, Plan.State.RUNNING),
    }
    return render(request, "clients/visits/plan.html", context)


@require_POST
def plan_propose(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_plan_or_404(request, pk, Power.CHANGE_CARE)
    made = propose_visits(plan=found, at=timezone.now(), by=request.user)
    if made:
        messages.success(request, f"{len(made)} visits are pencilled. Book them when the papers are ready.")
    else:
        messages.info(request, "Every day of the schedule that lies ahead has its visit already.")
    return redirect(found)


@require_POST
def plan_book_all(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_plan_or_404(request, pk, Power.CHANGE_CARE)
    result = book_all(plan=found, at=timezone.now(), by=request.user)
    if result.booked:
        messages.success(request, f"{len(result.booked)} visits are booked, each at the first free time of its day.")
    for reason, count in Counter(left.reason for left in result.left).most_common(5):
        messages.warning(request, f"{count} stay pencilled: {reason}")
    if not result.booked and not result.left:
        messages.info(request, "No pencilled visit lies ahead.")
    return redirect(found)


def _move(request: StaffRequest, pk: int, change: Callable[..., Plan], sentence: str) -> HttpResponse:
    found = get_plan_or_404(request, pk, Power.CHANGE_CARE)
    change(plan=found, at=timezone.now(), by=request.user)
    messages.success(request, sentence)
    return redirect(found)


@require_POST
def plan_run(request: StaffRequest, pk: int) -> HttpResponse:
    return _move(request, pk, run_plan, "The plan is running.")


@require_POST
def plan_pause(request: StaffRequest, pk: int) -> HttpResponse:
    return _move(request, pk, pause_plan, "The plan is paused. Its visits stay; move or cancel them one by one.")


@require_POST
def plan_finish(request: StaffRequest, pk: int) -> HttpResponse:
    return _move(request, pk, finish_plan, "The plan is finished.")


@require_POST
def plan_stop(request: StaffRequest, pk: int) -> HttpResponse:
    return _move(request, pk, stop_plan, "The plan is stopped. Visits still ahead stay in the diary until cancelled.")


@require_http_methods(["GET", "POST"])
def plan_spots(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_plan_or_404(request, pk, Power.CHANGE_CARE)
    form = SpotsAloneForm(request.POST or None, initial={"reason": found.spots_alone_reason})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            allow_spots_alone(plan=found, reason=form.cleaned_data["reason"], at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, "The reason is kept. Its spots can be booked.")
            return redirect(found)
    return render_form(
        request,
        form,
        heading="Spots with no full body near",
        submit="Go on",
        back=found.get_absolute_url(),
        kicker=str(found),
        intro=say_spots_alone(found, spots_alone_in(found, planned_sessions(found).sessions)),
    )


@require_http_methods(["GET", "POST"])
def plan_start(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_plan_or_404(request, pk, Power.CHANGE_CARE)
    version = found.guideline_version
    days_before = version.last_full_days_before if version else None
    form = StartForm(request.POST or None, initial={} if days_before is None else {"days_before": days_before})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            start, sentence = _new_start(found, form)
            move_plan_start(plan=found, start=start, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, sentence)
            return redirect(found)
    return render_form(
        request,
        form,
        heading=f"Move the start of {found}",
        submit="Move the start",
        back=found.get_absolute_url(),
        kicker=str(found.animal),
        intro=f"It starts on {say_date(found.start)} now. Its pencilled visits make way for new ones.",
    )


def _new_start(plan: Plan, form: StartForm) -> tuple[date, str]:
    data = form.cleaned_data
    if data["start"]:
        return data["start"], f"The plan starts on {say_date(data['start'])}."
    try:
        found = plan_back(schedule_of(plan), data["event"], data["days_before"] or 0, on=timezone.localdate())
    except NoStart as wrong:
        raise Refused(str(wrong)) from wrong
    return found.start, found.sentence


@require_http_methods(["GET", "POST"])
def plan_review(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_plan_or_404(request, pk, Power.CHANGE_CARE)
    form = ReviewForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            review_plan(plan=found, next_on=form.cleaned_data["next_on"], at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, "Reviewed.")
            return redirect(found)
    return render_form(
        request,
        form,
        heading=f"Review {found}",
        submit="Reviewed today",
        back=found.get_absolute_url(),
        kicker=str(found.animal),
        intro="Look at the sessions, the notes and the ease with the owner. The software gives no verdict.",
    )
