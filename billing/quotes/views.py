from datetime import date

from django.db.models import prefetch_related_objects
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.template.response import TemplateResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.documents.views import answer_with
from backoffice.letters.models import Letter
from backoffice.letters.queries import letters_about
from backoffice.refusal import Refused
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from billing.quotes import actions, options
from billing.quotes.costs import earnings_by_option
from billing.quotes.forms import PersonChoiceForm, QuoteForm
from billing.quotes.letters import letter_before
from billing.quotes.models import DrivingBeside, Quote
from billing.quotes.openings import openings_of
from billing.quotes.paper import quote_pdf
from billing.quotes.papers import papers_missing
from billing.quotes.queries import (
    Shown,
    comparison_of,
    get_quote_or_404,
    horses_for,
    horses_of,
    one_tap_options,
    quotes_listed,
    sort_links,
    sorted_rows,
    why_overtaken,
)
from billing.quotes.questions import questions_of
from billing.quotes.spoken import promises_of
from billing.quotes.suggestions import Suggestion
from billing.quotes.tables import QuoteFilter, QuoteTable


@require_GET
@needs(Power.SEE_MONEY)
def quotes(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=QuoteTable,
        filterset=QuoteFilter(request.GET, queryset=quotes_listed(timezone.localdate())),
        heading="Quotes",
        new=("New quote", reverse("billing:quote-new")),
        empty=(
            "No quote yet",
            "Lay several rhythms side by side, so that an owner can weigh cost against what they want.",
            "Make the first one",
            reverse("billing:quote-new"),
        ),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def quote_new(request: StaffRequest) -> HttpResponse:
    choice = PersonChoiceForm(request.GET if "person" in request.GET else None)
    if not choice.is_valid():
        return render_form(
            request,
            choice,
            heading="New quote",
            submit="Go on",
            back=reverse("billing:quotes"),
            template="billing/quotes/choose_person.html",
        )
    person = choice.cleaned_data["person"]
    on = timezone.localdate()
    horses = horses_for(person, on)
    draft = QuoteForm(
        request.POST or None,
        horses=horses,
        person=person,
        on=on,
        instance=Quote(person=person, made_by=request.user),
        initial={"horses": request.GET.getlist("horse")} if "horse" in request.GET else None,
    )
    if request.method == "POST" and draft.is_valid():
        with showing_refusal(draft):
            made = actions.draft_quote(
                quote=draft.save(commit=False), horses=draft.cleaned_data["horses"], at=timezone.now(), by=request.user
            )
            return redirect(made)
    return render_form(
        request,
        draft,
        heading=f"New quote for {person}",
        kicker="Step 2 of 2",
        submit="Lay out the options",
        back=reverse("billing:quotes"),
        context={"no_horses": not horses, "person": person},
        template="billing/quotes/quote_form.html",
    )


@require_GET
def quote(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_quote_or_404(request, pk)
    prefetch_related_objects([found], "options__schedules__phases", "guideline_version__phases")
    on = timezone.localdate()
    sort = request.GET.get("sort", "")
    shown = sorted_rows(comparison_of(found, on=on, with_hidden=True), sort)
    horses = horses_of(found)
    accepted = found.state == Quote.State.ACCEPTED
    changeable = found.state == Quote.State.DRAFT and request.user.may(Power.CHANGE_MONEY)
    context = {
        "quote": found,
        "horses": horses,
        "shown": shown,
        "questions": questions_of(found),
        "spoken": promises_of(found) if found.is_draft else [],
        "state": found.state_on(on),
        "overtaken": why_overtaken(found, on) if found.is_answerable(on) else "",
        "sorts": sort_links(sort),
        "changeable": changeable,
        "one_tap": _one_tap(found, shown, on) if changeable else [],
        "letter": letter_before(found, on) if changeable and shown.rows and found.person.email else None,
        "opened": openings_of([found])[found.pk].words(on),
        "mailed": letters_about(found).filter(kind=Letter.Kind.QUOTE_OFFERED).first(),
        "plans": found.acceptance.plans.select_related("animal").order_by("pk") if accepted else [],
        "papers": papers_missing(found, on=on) if accepted else [],
        "driving": DrivingBeside.objects.filter(quote=found).first() if request.user.may(Power.SEE_MARGINS) else None,
        "earnings": earnings_by_option(shown, horses[0].barn, on=on) if request.user.may(Power.SEE_MARGINS) else None,
    }
    return TemplateResponse(request, "billing/quotes/quote.html", context)


def _one_tap(found: Quote, shown: Shown, on: date) -> list[Suggestion]:
    priced = shown.comparison.request if shown.comparison else None
    return one_tap_options(found, on=on, hire=priced.hire is not None if priced else None)


@require_http_methods(["GET", "POST"])
def quote_edit(request: StaffRequest, pk: int) -> HttpResponse:
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    if found.state != Quote.State.DRAFT:
        raise Refused(options.NO_DRAFT)
    form = QuoteForm(
        request.POST or None, horses=horses_of(found), person=found.person, on=timezone.localdate(), instance=found
    )
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            return redirect(actions.change_quote(quote=form.save(commit=False), by=request.user))
    return render_form(
        request, form, heading=found.title, kicker="Change the quote", submit="Save", back=found.get_absolute_url()
    )


@require_POST
def quote_start(request: StaffRequest, pk: int) -> HttpResponse:
    """The start moved by a day or a week, earlier or later."""
    demand(request, Power.CHANGE_MONEY)
    found = get_quote_or_404(request, pk)
    by_days = {"-7": -7, "-1": -1, "1": 1, "7": 7}.get(request.POST.get("days", ""))
    if by_days is None:
        raise Refused("The start moves by a day or by a week.")
    return redirect(actions.move_start(quote=found, by_days=by_days, at=timezone.now(), by=request.user))


@require_GET
def quote_paper(request: HttpRequest, pk: int) -> HttpResponse:
    found = get_quote_or_404(request, pk)
    if found.document is not None:
        return answer_with(found.document, request)
    return _draft_paper(found, timezone.localdate())


def _draft_paper(found: Quote, on: date) -> HttpResponse:
    content = quote_pdf(found, on=on)
    return HttpResponse(content, content_type="application/pdf", headers={"Content-Disposition": "inline"})
