"""A day that fails: what goes where, whom to tell, and the way back."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.business.queries import the_business
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.words import day as day_words
from clients.rounds.failing import free_day, messages_of, put_back
from clients.rounds.forms import FailForm
from clients.rounds.models import FailedDay
from clients.rounds.queries import freed_visits, get_practitioner_or_404
from clients.visits.actions import mark_told
from clients.visits.models import Told
from clients.visits.queries import OPEN, visits_on
from clients.visits.views.doors import read_day


def get_failed_day_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> FailedDay:
    demand(request, power)
    return get_object_or_404(FailedDay.objects.select_related("practitioner", "freed_by"), pk=pk)


@require_http_methods(["GET", "POST"])
def day_fail(request: StaffRequest, day: str, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_CARE)
    practitioner, on = get_practitioner_or_404(request, pk), read_day(day)
    open_visits = visits_on(on, practitioner).filter(status__in=OPEN, arrival__isnull=True)
    form = FailForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            failed = free_day(
                day=on, practitioner=practitioner, **form.cleaned_data, at=timezone.now(), by=request.user
            )
            messages.success(request, "The day is free. Look at the new days, then tell the owners.")
            return redirect(failed)
    return render_form(
        request,
        form,
        heading=f"{day_words(on)} fails",
        submit="Free the day",
        back=request.path.removesuffix("fail/"),
        kicker=f"Round of {practitioner}",
        intro=(
            "Each visit below is pencilled on the day that suits it best by its plan and your driving. "
            "Nobody is charged, nothing is sent by itself, and you can put the day back."
        ),
        template="clients/rounds/fail_day.html",
        context={"open_visits": open_visits},
    )


@require_GET
def failed_day(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_failed_day_or_404(request, pk)
    freed = freed_visits(found)
    context = {
        "failed": found,
        "freed": freed,
        "drafts": messages_of(found, freed, the_business()),
        "may_put_back": found.undone_at is None and found.day >= timezone.localdate(),
    }
    return render(request, "clients/rounds/failed_day.html", context)


@require_POST
def failed_day_told(request: StaffRequest, pk: int, person_pk: int) -> HttpResponse:
    found = get_failed_day_or_404(request, pk, Power.CHANGE_CARE)
    drafts = messages_of(found, freed_visits(found), the_business())
    draft = next((each for each in drafts if each.person.pk == person_pk), None)
    if draft is None:
        raise Http404("Nobody like that is to be told.")
    if not draft.is_told:
        mark_told(message=draft, what=Told.What.FREED, at=timezone.now(), by=request.user)
    return redirect(f"{found.get_absolute_url()}#tell")


@require_POST
def failed_day_put_back(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_failed_day_or_404(request, pk, Power.CHANGE_CARE)
    left = put_back(failed_day=found, at=timezone.now(), by=request.user)
    messages.success(request, f"{day_words(found.day)} stands as it did.")
    for sentence in left:
        messages.warning(request, sentence)
    return redirect(found)
