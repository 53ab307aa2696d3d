"""The owner's side of a quote, behind a private link: read, choose and sign, or decline. A GET changes nothing."""

from urllib.parse import urlencode

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.documents.views import answer_with
from backoffice.links.doors import by_link
from backoffice.links.models import PrivateLink
from backoffice.ui import words
from backoffice.ui.forms import showing_refusal
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.actions import decline_quote
from billing.quotes.forms import AcceptForm, DeclineForm
from billing.quotes.models import Quote
from billing.quotes.papers import open_paper, papers_missing
from billing.quotes.queries import comparison_of, horses_of, linked_quote, why_overtaken
from billing.quotes.question_forms import QuestionForm
from billing.quotes.questions import ask_question, questions_of

by_quote_link = by_link(PrivateLink.Purpose.QUOTE)


@by_quote_link
@require_GET
def owner_quote(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    quote = linked_quote(link.target_pk)
    return _page(request, quote, token=token)


def _page(
    request: HttpRequest,
    quote: Quote,
    *,
    token: str,
    accept_form: AcceptForm | None = None,
    decline_form: DeclineForm | None = None,
    question_form: QuestionForm | None = None,
) -> HttpResponse:
    """The page with fresh forms, or, with status 422, with the one that was sent."""
    on = timezone.localdate()
    accepted = quote.state == Quote.State.ACCEPTED
    shown = comparison_of(quote, on=on)
    overtaken = why_overtaken(quote, on) if quote.is_answerable(on) else ""
    context = {
        "quote": quote,
        "horses": horses_of(quote),
        "shown": shown,
        "chosen": next((row for row in shown.rows if row.option.is_chosen), None),
        "promised": list(quote.acceptance.at_most.items()) if accepted else [],
        "token": token,
        "accept_form": accept_form or _accept_form(request, quote),
        "decline_form": decline_form or DeclineForm(),
        "question_form": question_form or QuestionForm(),
        "questions": questions_of(quote),
        "answerable": quote.is_answerable(on) and not overtaken,
        "overtaken": overtaken,
        "papers": papers_missing(quote, on=on) if accepted else [],
    }
    status = 422 if accept_form or decline_form or question_form else 200
    return render(request, "billing/quotes/owner_quote.html", context, status=status)


def _accept_form(request: HttpRequest, quote: Quote, given: QueryDict | None = None) -> AcceptForm:
    on = timezone.localdate()
    business = request.business  # type: ignore[attr-defined]
    totals = {row.option.pk: words.money(row.measures.total, business) for row in comparison_of(quote, on=on).rows}
    return AcceptForm(given, quote=quote, totals=totals, on=on)


@by_quote_link
@require_GET
def owner_quote_paper(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    quote = linked_quote(link.target_pk)
    if quote.document is None:
        raise Http404("No paper was kept with this quote.")
    return answer_with(quote.document, request)


@by_quote_link
@require_POST
def owner_quote_ask(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    quote = linked_quote(link.target_pk)
    form = QuestionForm(request.POST)
    if form.is_valid():
        with showing_refusal(form):
            ask_question(quote=quote, text=form.cleaned_data["text"], at=timezone.now())
            messages.success(request, "Your question is on its way. The answer comes to you and stands here.")
            return redirect(f"{reverse('billing:owner-quote', args=[token])}#questions")
    return _page(request, quote, token=token, question_form=form)


@by_quote_link
@require_POST
def owner_quote_accept(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    quote = linked_quote(link.target_pk)
    form = _accept_form(request, quote, request.POST)
    if form.is_valid():
        signed = Signed(
            name_typed=form.cleaned_data["name_typed"],
            strokes=form.cleaned_data["strokes"],
            device=request.headers.get("User-Agent", ""),
            address=request.META.get("REMOTE_ADDR"),
            link=link,
        )
        with showing_refusal(form):
            accept_quote(quote=quote, option=form.cleaned_data["option"], signed=signed, at=timezone.now())
            return redirect("billing:owner-quote", token)
    return _page(request, quote, token=token, accept_form=form)


@by_quote_link
@require_POST
def owner_quote_decline(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    quote = linked_quote(link.target_pk)
    form = DeclineForm(request.POST)
    if not form.is_valid():
        return _page(request, quote, token=token, decline_form=form)
    decline_quote(quote=quote, reason=form.cleaned_data["reason"], at=timezone.now(), via="private link")
    return redirect("billing:owner-quote", token)


@by_quote_link
@require_POST
def owner_quote_sign(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    """Go on to a paper that is still to sign, by a link of its own that knows the way back."""
    quote = linked_quote(link.target_pk)
    paper = open_paper(quote=quote, key=request.POST.get("paper", ""), at=timezone.now())
    back = urlencode({"back": reverse("billing:owner-quote", args=[token])})
    return redirect(f"{reverse('clients:owner-form', args=[paper])}?{back}")
