from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.lists.actions import bring_in, look_through, read_list, undo
from backoffice.lists.forms import ColumnsForm, ReadForm
from backoffice.lists.kinds import KINDS
from backoffice.lists.models import BroughtList
from backoffice.lists.reading import BadTable, read_table
from backoffice.ui.forms import showing_refusal

LATEST, SHOWN = 20, 200


def get_list_or_404(request: StaffRequest, pk: int) -> BroughtList:
    demand(request, Power.CHANGE_SETTINGS)
    return get_object_or_404(BroughtList, pk=pk)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def lists(request: StaffRequest) -> HttpResponse:
    """Lists that were kept elsewhere: take one in, and what came in so far."""
    form = ReadForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data["file"]
        try:
            table = read_table(given.read())
        except BadTable as wrong:
            form.add_error("file", str(wrong))
        else:
            kind = form.cleaned_data["kind"]
            found = read_list(kind=kind, name=given.name, table=table, at=timezone.now(), by=request.user)
            return redirect("backoffice:list", found.pk)
    done = BroughtList.objects.exclude(state=BroughtList.State.READ)[:LATEST]
    context = {"form": form, "done": [(each, KINDS[each.kind], len(each.made)) for each in done]}
    return render(request, "backoffice/lists/lists.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def brought_list(request: StaffRequest, pk: int) -> HttpResponse:
    """Say what the columns are, see every row's problem, then bring all of it in."""
    brought = get_list_or_404(request, pk)
    kind, heading = KINDS[brought.kind], list(brought.heading)
    if brought.state != BroughtList.State.READ:
        return redirect("backoffice:lists")
    form = ColumnsForm(request.POST or None, kind=kind, heading=heading)
    problems, looked = [], False
    if request.method == "POST" and form.is_valid():
        looked, problems = True, look_through(brought, form.columns, at=timezone.now())
        to_leave = len(problems) if len(problems) < len(brought.rows) else 0
        form = ColumnsForm(request.POST, kind=kind, heading=heading, problems=to_leave)
        if form.is_valid() and "bring" in request.POST:
            leave_out = form.cleaned_data.get("leave_out", False)
            with showing_refusal(form):
                found = bring_in(
                    brought=brought, columns=form.columns, leave_out=leave_out, at=timezone.now(), by=request.user
                )
                messages.success(request, f"{len(found.made)} rows of {found} are brought in.")
                return redirect(kind.list_url)
    context = {
        "brought": brought,
        "kind": kind,
        "form": form,
        "looked": looked and not form.errors,
        "problems": problems[:SHOWN],
        "count": len(problems),
        "good": len(brought.rows) - len(problems),
    }
    return render(request, "backoffice/lists/list.html", context, status=422 if form.errors else 200)


@require_POST
def list_undo(request: StaffRequest, pk: int) -> HttpResponse:
    undone = undo(brought=get_list_or_404(request, pk), at=timezone.now(), by=request.user)
    messages.success(request, f"{undone} is taken out again.")
    return redirect("backoffice:lists")
