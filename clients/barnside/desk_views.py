"""At the desk: entries that wait for a person, and the phones that take the day along."""

from uuid import UUID

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.refusal import Refused
from clients.barnside.actions import let_in_again, remove_phone, settle
from clients.barnside.kinds import WORDS, words_of
from clients.barnside.models import BarnEvent
from clients.barnside.queries import get_entry_or_404, get_phone_or_404, open_entries, phones_of

MOST_SHOWN = 100


@require_GET
@needs(Power.SEE_HEALTH)
def decisions(request: StaffRequest) -> HttpResponse:
    waiting = [_shown(event) for event in open_entries()[:MOST_SHOWN]]
    return render(request, "clients/barnside/decisions.html", {"waiting": waiting, "count": open_entries().count()})


def _shown(event: BarnEvent) -> dict[str, object]:
    return {"event": event, "kind": WORDS.get(event.kind, "Not readable"), "says": words_of(event.values)}


@require_POST
def entry_take(request: StaffRequest, pk: UUID) -> HttpResponse:
    """Take it after all; of one that is taken already, say that it was seen."""
    event = get_entry_or_404(request, pk)
    settle(event=event, take=True, at=timezone.now(), by=request.user)
    messages.success(request, "Seen." if event.is_applied else "Taken as the phone said.")
    return redirect("clients:barn-decisions")


@require_POST
def entry_leave(request: StaffRequest, pk: UUID) -> HttpResponse:
    event = get_entry_or_404(request, pk)
    try:
        settle(event=event, take=False, reason=request.POST.get("reason", "")[:300], at=timezone.now(), by=request.user)
        messages.success(request, "Left as it stands here; the entry is kept with your reason.")
    except Refused as refusal:
        messages.error(request, refusal.sentence)
    return redirect("clients:barn-decisions")


@require_GET
@needs(Power.SEE_CARE)
def phones(request: StaffRequest) -> HttpResponse:
    context = {"phones": phones_of(request.user), "several": request.user.may(Power.CHANGE_SETTINGS)}
    return render(request, "clients/barnside/phones.html", context)


@require_POST
def phone_remove(request: StaffRequest, pk: int) -> HttpResponse:
    phone = get_phone_or_404(request, pk)
    remove_phone(phone=phone, at=timezone.now(), by=request.user)
    messages.success(request, "Removed: at its next signal the phone puts away the day that it holds.")
    return redirect("clients:phones")


@require_POST
def phone_let_in(request: StaffRequest, pk: int) -> HttpResponse:
    """Only whoever keeps the settings lets a lost phone in again."""
    demand(request, Power.CHANGE_SETTINGS)
    let_in_again(phone=get_phone_or_404(request, pk), at=timezone.now(), by=request.user)
    messages.success(request, "This phone is let in again.")
    return redirect("clients:phones")
