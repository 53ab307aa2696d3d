"""The vet, from the desk: asked, reminded, heard on the telephone, answered."""

from datetime import date

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.ui.forms import render_form, showing_refusal
from clients.animals.models import Animal
from clients.animals.queries import get_animal_or_404, latest_health, owners_on
from clients.paperwork import referring, renewing
from clients.paperwork.facts import KINDS_OF_WORK, STOP_AND_ASK
from clients.paperwork.filling import filled
from clients.paperwork.forms import CallForm, ReferralForm
from clients.paperwork.models import VetReferral, Wording
from clients.paperwork.queries import get_referral_or_404, is_quiet, newest_of_kind
from clients.paperwork.views import show_link, the_business_of


@require_GET
@needs(Power.SEE_HEALTH)
def referral(request: StaffRequest, pk: int) -> HttpResponse:
    row, today = get_referral_or_404(request, pk), timezone.localdate()
    services = [KINDS_OF_WORK.get(kind, kind) for kind in row.service_kinds]
    return render(
        request,
        "clients/paperwork/referral.html",
        {
            "referral": row,
            "services": services,
            "scans": row.scans.order_by("pk"),
            "calls": row.calls.select_related("heard_by"),
            "may_remind": is_quiet(row, today),
            "today": today,
        },
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
@needs(Power.SEE_HEALTH)
def referral_new(request: StaffRequest, animal_pk: int) -> HttpResponse:
    animal = get_animal_or_404(request, animal_pk, Power.CHANGE_CARE)
    asked = _question_about(animal, timezone.localdate(), the_business_of(request))
    initial = {"practice": animal.vet_practice_id, "asked": asked}
    ask = ReferralForm(request.POST or None, initial=initial)
    if request.method == "POST" and ask.is_valid():
        with showing_refusal(ask):
            row, token = referring.request_referral(
                animal=animal, **ask.cleaned_data, at=timezone.now(), by=request.user
            )
            return _link_for_the_vet(request, row, token)
    back = animal.get_absolute_url()
    return render_form(request, ask, heading="Ask the vet", submit="Make the request", back=back, kicker=str(animal))


def _question_about(animal: Animal, on: date, business: Business) -> str:
    """The practitioner's own wording and what is recorded, as a start for the question, to be edited."""
    wording = newest_of_kind(Wording.Kind.VET)
    owners = " and ".join(share.person.name for share in owners_on([animal], on)[animal.pk])
    values = {"horse": animal.name, "owner": owners, "barn": animal.barn.name, "business": business.name}
    question = f"May {animal} have sessions for ease and maintenance, and within what limits?"
    answers = latest_health([animal])[animal.pk]
    recorded = [
        f"{label}: yes, recorded on {answers[kind].asked_on:%Y-%m-%d}"
        for kind, label in {**STOP_AND_ASK, "dose_critical": "Dose-critical medicine"}.items()
        if kind in answers and answers[kind].state == "yes"
    ]
    parts = [filled(wording.text, values) if wording else question]
    parts += ["\n".join(["Recorded:", *recorded])] if recorded else []
    return "\n\n".join(parts)


@require_POST
@needs(Power.CHANGE_CARE)
def referral_link(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_referral_or_404(request, pk, Power.CHANGE_CARE)
    return _link_for_the_vet(request, row, referring.link_to_answer(referral=row, at=timezone.now(), by=request.user))


@require_POST
@needs(Power.CHANGE_CARE)
def referral_remind(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_referral_or_404(request, pk, Power.CHANGE_CARE)
    token = renewing.remind_vet(referral=row, at=timezone.now(), by=request.user)
    return _link_for_the_vet(request, row, token, f"A reminder of our question about {row.animal}")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
@needs(Power.SEE_HEALTH)
def referral_call(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_referral_or_404(request, pk, Power.CHANGE_CARE)
    call = CallForm(request.POST or None, initial={"vet_name": row.practice.vet_name})
    if request.method == "POST" and call.is_valid():
        with showing_refusal(call):
            referring.note_call(referral=row, **call.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "Written down. What needs the vet in writing still needs it.")
            return redirect(row)
    return render_form(
        request,
        call,
        heading="What the vet said on the telephone",
        submit="Write it down",
        back=row.get_absolute_url(),
        kicker=str(row.animal),
    )


def _link_for_the_vet(request: StaffRequest, row: VetReferral, token: str, subject: str = "") -> HttpResponse:
    return show_link(
        request,
        back=row.get_absolute_url(),
        path=reverse("clients:vet-referral", args=[token]),
        reader=row.practice.vet_name or row.practice.name,
        email=row.practice.email,
        subject=subject or f"A question about {row.animal}",
    )
