"""The planner: a search that says how far it is, and its proposal, taken in whole or by line."""

from datetime import timedelta
from itertools import groupby

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.rounds.forms import PlanningForm
from clients.rounds.models import PlanningRun
from clients.rounds.planning import accept_lines, start_planning, stop_planning
from clients.visits.queries import practitioners

SHOWN_RUNS = 8
CUT_OFF_AFTER = timedelta(seconds=90)


def get_planning_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> PlanningRun:
    demand(request, power)
    return get_object_or_404(PlanningRun.objects.select_related("started_by").prefetch_related("people"), pk=pk)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def planner(request: StaffRequest) -> HttpResponse:
    form = PlanningForm(request.POST or None, initial={"weeks": 2, "people": practitioners()})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            weeks, people = int(form.cleaned_data["weeks"]), list(form.cleaned_data["people"])
            return redirect(start_planning(weeks=weeks, people=people, at=timezone.now(), by=request.user))
    return render_form(
        request,
        form,
        heading="Plan these days",
        submit="Look for better days",
        back=reverse("clients:diary"),
        kicker="Diary",
        intro=(
            "Pencilled visits are tried on the other days that their plan tolerates, so that you drive less. "
            "What is booked stays. You get a proposal; nothing moves until you take it."
        ),
        template="clients/rounds/planner.html",
        context={"runs": PlanningRun.objects.select_related("started_by")[:SHOWN_RUNS]},
    )


@require_GET
def planning(request: StaffRequest, pk: int) -> HttpResponse:
    run = get_planning_or_404(request, pk)
    moves = run.moves.select_related("visit__animal", "visit__barn", "visit__practitioner")
    context = {
        "run": run,
        "is_cut_off": run.state == PlanningRun.State.RUNNING and timezone.now() - run.seen_at > CUT_OFF_AFTER,
        "lines": [(number, list(rows)) for number, rows in groupby(moves, key=lambda move: move.line)],
        "has_open": any(move.state == move.State.OPEN for move in moves),
    }
    response = render(request, "clients/rounds/planning.html", context)
    if run.state == PlanningRun.State.RUNNING and not context["is_cut_off"]:
        response["Refresh"] = "2"
    return response


@require_POST
def planning_stop(request: StaffRequest, pk: int) -> HttpResponse:
    run = get_planning_or_404(request, pk, Power.CHANGE_CARE)
    stop_planning(run=run, at=timezone.now(), by=request.user)
    return redirect(run)


@require_POST
def planning_accept(request: StaffRequest, pk: int) -> HttpResponse:
    run = get_planning_or_404(request, pk, Power.CHANGE_CARE)
    ticked = {int(line) for line in request.POST.getlist("line") if line.isdecimal()}
    if "all" in request.POST:
        ticked = set(run.moves.values_list("line", flat=True))
    counts = accept_lines(run=run, lines=ticked, at=timezone.now(), by=request.user)
    left = f" {counts['left']} stayed where they were; the reason stands beside them." if counts["left"] else ""
    moved = f"{counts['accepted']} visit{'' if counts['accepted'] == 1 else 's'} moved."
    messages.success(request, f"{moved}{left} They are pencilled as before: book them when the owners agree.")
    return redirect(run)
