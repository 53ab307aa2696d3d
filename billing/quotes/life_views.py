"""The life of a quote on the practitioner's side: sent, asked about, compared with its versions before."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from backoffice.links.actions import full_address
from backoffice.ui.forms import render_form, showing_refusal
from billing.quotes import actions
from billing.quotes.queries import get_quote_or_404
from billing.quotes.question_forms import AnswerForm
from billing.quotes.questions import answer_question, get_question_or_404
from billing.quotes.spoken import promises_of
from billing.quotes.versions_kept import versions_of


@require_POST
def quote_offer(request: StaffRequest, pk: int) -> HttpResponse:
    """Send it; where its texts promise an outcome, show them first, and go on only with the tick."""
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    words_read = "words_read" in request.POST
    if not words_read and found.is_draft and (spoken := promises_of(found)):
        return render(request, "billing/quotes/words.html", {"quote": found, "spoken": spoken}, status=422)
    token = actions.offer_quote(quote=found, at=timezone.now(), by=request.user, words_read=words_read)
    sent = (
        f"Mailed to {found.person.email}."
        if found.person.email
        else "No mail address is known: send the link yourself."
    )
    messages.success(request, f"Offered. {sent} {link_words(token)}")
    return redirect(found)


@require_POST
def quote_link(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    token = actions.new_link(quote=found, at=timezone.now(), by=request.user)
    messages.success(request, f"A new private link; the one before stopped working. {link_words(token)}")
    return redirect(found)


def link_words(token: str) -> str:
    return f"The link, shown this once: {full_address(reverse('billing:owner-quote', args=[token]))}"


@require_POST
def quote_replace(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    return redirect(actions.new_version(quote=found, at=timezone.now(), by=request.user))


@require_GET
def quote_versions(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_quote_or_404(request, pk)
    steps = versions_of(found, on=timezone.localdate())
    return render(request, "billing/quotes/versions.html", {"quote": found, "steps": steps})


@require_http_methods(["GET", "POST"])
def question_answer(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    question = get_question_or_404(request, pk)
    form = AnswerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            answer_question(question=question, answer=form.cleaned_data["answer"], at=timezone.now(), by=request.user)
            messages.success(request, "Answered. It stands on the owner's page.")
            return redirect(question.quote)
    return render_form(
        request,
        form,
        heading=f"{question.quote.person} asks",
        kicker=question.quote.title,
        intro=question.text,
        submit="Send the answer",
        back=question.quote.get_absolute_url(),
    )
