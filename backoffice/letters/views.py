from urllib.parse import quote, urlencode

from django.conf import settings
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST, require_safe

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.later.actions import later
from backoffice.letters.actions import as_it_goes, deliver_waiting, end_waiting, send_again
from backoffice.letters.models import Letter
from backoffice.letters.queries import get_letter_or_404, letters_for, waiting_letters
from backoffice.letters.tables import STATES, LetterFilter, LetterTable
from backoffice.refusal import Refused
from backoffice.ui.lists import render_list

ENDED = {
    Letter.State.BY_HAND: "Written down: you sent it yourself.",
    Letter.State.DROPPED: "It will not be sent.",
}


@require_safe
@needs(Power.SEE_CARE)
def letters(request: StaffRequest) -> HttpResponse:
    """What went out by mail, and what waits."""
    return render_list(
        request,
        table_class=LetterTable,
        filterset=LetterFilter(request.GET, queryset=letters_for(request.user)),
        heading="Letters",
        template="backoffice/letters/letters.html",
        context={"waiting": waiting_letters().count(), "mail_goes": settings.MAIL_GOES},
        empty=(
            "No letter yet",
            "Quotes, invoices, reminders and signed forms that are mailed are kept here.",
        ),
    )


@require_GET
def letter(request: StaffRequest, pk: int) -> HttpResponse:
    """How it reads; while it waits, with its private link, for whoever may send it."""
    found = get_letter_or_404(request, pk)
    may_send = request.user.may(found.power_to_send)
    text, note = found.text, ""
    if found.is_waiting and may_send:
        try:
            text = as_it_goes(found)["text"]
        except Refused as why:
            note = str(why)
    context = {
        "letter": found,
        "tone": STATES[found.state][0],
        "text": text,
        "note": note,
        "may_send": may_send,
        "mail_goes": settings.MAIL_GOES,
        "mail_program": _mail_program(found, text),
    }
    return render(request, "backoffice/letters/letter.html", context)


def _mail_program(letter: Letter, text: str) -> str:
    """The letter as an address that opens the reader's own mail program (RFC 6068)."""
    lines = text.strip().replace("\r\n", "\n").replace("\n", "\r\n")
    return f"mailto:{quote(letter.to)}?{urlencode({'subject': letter.subject, 'body': lines}, quote_via=quote)}"


@require_POST
def letter_send(request: StaffRequest, pk: int) -> HttpResponse:
    found = _to_send(request, pk)
    send_again(letter=found, at=timezone.now(), by=request.user)
    messages.success(request, "It is on its way. This page says when it has gone.")
    return redirect(found)


@require_POST
def letter_end(request: StaffRequest, pk: int, state: Letter.State) -> HttpResponse:
    found = _to_send(request, pk)
    end_waiting(letter=found, state=state, at=timezone.now(), by=request.user)
    messages.success(request, ENDED[state])
    return redirect(found)


@require_POST
@needs(Power.SEE_CARE)
def letters_try(request: StaffRequest) -> HttpResponse:
    """Try all that wait, as each night does."""
    later(deliver_waiting)
    messages.success(request, "Each is tried now. What still waits says why.")
    return redirect("backoffice:letters")


def _to_send(request: StaffRequest, pk: int) -> Letter:
    found = get_letter_or_404(request, pk)
    demand(request, found.power_to_send)
    return found
