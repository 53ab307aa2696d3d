from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.home.papers import MOST_AT_ONCE, papers_for, take_papers
from backoffice.home.tables import PaperFilter, PaperTable
from backoffice.ui.lists import render_list


@require_GET
@needs(Power.SEE_CARE)
def papers(request: StaffRequest) -> HttpResponse:
    return render_list(
        request,
        table_class=PaperTable,
        filterset=PaperFilter(request.GET, queryset=papers_for(request.user, timezone.localdate())),
        heading="All paper",
        template="backoffice/home/papers.html",
        empty=("No paper yet", "Signed forms, quotes, reports and invoices are kept here as they are made."),
    )


@require_POST
@needs(Power.SEE_CARE)
def papers_zip(request: StaffRequest) -> HttpResponse:
    ticked = [int(pk) for pk in request.POST.getlist("paper") if pk.isdecimal() and len(pk) < 19]
    if not 1 <= len(ticked) <= MOST_AT_ONCE:
        messages.error(request, f"Tick the papers to take first: from one to {MOST_AT_ONCE}.")
        return redirect("backoffice:papers")
    papers = papers_for(request.user, timezone.localdate()).filter(pk__in=ticked)
    content = take_papers(papers=papers, at=timezone.now(), by=request.user)
    response = HttpResponse(content, content_type="application/zip")
    response["Content-Disposition"] = f'attachment; filename="papers-{timezone.localdate():%Y-%m-%d}.zip"'
    response["Cache-Control"] = "no-store"
    return response
