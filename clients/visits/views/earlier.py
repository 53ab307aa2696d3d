from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.animals.queries import get_animal_or_404
from clients.visits.actions import note_earlier_work, strike_earlier_work
from clients.visits.earlier_forms import EarlierWorkForm, LastFullForm
from clients.visits.queries import horses_without_full_body


@require_http_methods(["GET", "POST"])
def earlier_work(request: StaffRequest, pk: int) -> HttpResponse:
    """Note work on a horse of before these records."""
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    form = EarlierWorkForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            work = note_earlier_work(animal=animal, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"{work} is noted.")
            return redirect(animal)
    return render_form(
        request,
        form,
        heading="Work of before",
        submit="Note it",
        back=animal.get_absolute_url(),
        kicker=str(animal),
        intro="From your diary or list of before. Spots may lean on it, and the history file tells it. "
        "It is not billed, and no paper is asked for it.",
    )


@require_POST
def earlier_strike(request: StaffRequest, pk: int, work_pk: int) -> HttpResponse:
    animal = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    work = get_object_or_404(animal.earlier_work.select_related("service"), pk=work_pk)
    strike_earlier_work(work=work, at=timezone.now(), by=request.user)
    messages.success(request, f"{work} is struck out.")
    return redirect(animal)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def last_full_bodies(request: StaffRequest) -> HttpResponse:
    """The last full body of each horse that has none on record, all on one page."""
    horses = horses_without_full_body()
    form = LastFullForm(request.POST or None, horses=horses, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            days, service = form.days, form.cleaned_data["service"]
            for animal, day in days:
                note_earlier_work(animal=animal, service=service, day=day, at=timezone.now(), by=request.user)
            messages.success(request, f"Noted: {len(days)} last full bod{'y' if len(days) == 1 else 'ies'}.")
            return redirect("clients:animals")
    return render_form(
        request,
        form,
        heading="Last full bodies",
        submit="Note them",
        back=reverse("clients:animals"),
        kicker="Horses",
        intro="Each horse with none on record. Leave a day empty where you do not know it."
        if horses
        else "Every horse has a full body on record, or there is no horse yet. Nothing to do here.",
    )
