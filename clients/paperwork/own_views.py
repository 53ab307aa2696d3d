"""Settings, Your own papers: what the practice itself must keep in force."""

from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.words import day
from clients.paperwork import own_actions
from clients.paperwork.own_forms import DropForm, EndForm, OwnPaperForm, RenewalForm
from clients.paperwork.own_queries import get_own_paper_or_404, own_papers, standing_on
from clients.paperwork.views import the_business_of


@require_GET
@needs(Power.CHANGE_SETTINGS)
def own_papers_list(request: StaffRequest) -> HttpResponse:
    notice_days = the_business_of(request).own_paper_notice_days
    now, past = standing_on(timezone.localdate(), notice_days=notice_days)
    context = {"now": now, "past": past, "notice_days": notice_days}
    return render(request, "clients/paperwork/own_papers.html", context)


@require_GET
@needs(Power.CHANGE_SETTINGS)
def own_paper(request: StaffRequest, pk: int) -> HttpResponse:
    row, today = get_own_paper_or_404(request, pk), timezone.localdate()
    renewal = own_papers().filter(follows=row, is_mistake=False).first()
    context = {
        "row": row,
        "renewal": renewal,
        "scans": list(row.scans.order_by("pk")),
        "has_ended": row.ends < today,
        "may_renew": row.dropped_on is None and renewal is None,
        "may_end": row.dropped_on is None and row.ended_on is None and row.ends >= today,
    }
    return render(request, "clients/paperwork/own_paper.html", context)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def own_paper_new(request: StaffRequest) -> HttpResponse:
    form = OwnPaperForm(request.POST or None, request.FILES or None, initial={"uses_machine": ""})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            row = own_actions.add_own_paper(**form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"Written down. It holds until {day(row.until)}.")
            return redirect(row)
    return render_form(
        request,
        form,
        heading="Write down a paper",
        submit="Write it down",
        back=reverse("clients:own-papers"),
        kicker="Your own papers",
        intro="From the day after its last day, permission to work says hold for the work, the place and the person"
        " that it is for, until its renewal is written down.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def own_paper_renew(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_own_paper_or_404(request, pk)
    initial = {"issuer": row.issuer, "number": row.number, "since": row.ends + timedelta(days=1)}
    form = RenewalForm(request.POST or None, request.FILES or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            renewal = own_actions.renew_own_paper(paper=row, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"Renewed until {day(renewal.until)}.")
            return redirect(renewal)
    return render_form(
        request,
        form,
        heading="Renew",
        submit="Write it down",
        back=row.get_absolute_url(),
        kicker=str(row),
        intro=f"The new paper is for {row.what_for}, as before. The one before it stays as it was.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def own_paper_end(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_own_paper_or_404(request, pk)
    form = EndForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            row = own_actions.end_own_paper(paper=row, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"Its last day is {day(row.ends)}.")
            return redirect(row)
    return render_form(
        request,
        form,
        heading="It ends early",
        submit="End it on that day",
        back=row.get_absolute_url(),
        kicker=str(row),
        intro="It was cancelled or taken away before its day. From the day after, permission to work says hold.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def own_paper_drop(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_own_paper_or_404(request, pk)
    form = DropForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            row = own_actions.drop_own_paper(paper=row, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "Put away. It stays readable here, and nobody is asked for it any more.")
            return redirect(row)
    return render_form(
        request,
        form,
        heading="Put it away",
        submit="Put it away",
        back=row.get_absolute_url(),
        kicker=str(row),
        intro="For a paper that nobody needs any more, such as that of a vehicle sold. One that only ended is renewed.",
    )
