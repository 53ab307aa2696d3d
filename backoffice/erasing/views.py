from itertools import groupby

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.erasing.actions import erase_person, set_keep_rule
from backoffice.erasing.collecting import in_the_way, verdicts_on
from backoffice.erasing.forms import EraseForm, KeepRuleForm
from backoffice.erasing.handing_over import hand_over
from backoffice.keeping.kinds import BY_NAME
from backoffice.keeping.models import Erasure, KeepRule
from backoffice.keeping.queries import keep_table
from backoffice.keeping.rules import Verdict
from backoffice.ui.forms import render_form, showing_refusal
from clients.people.queries import get_person_or_404
from clients.records.views import zip_answer

LATEST = 50


@require_GET
@needs(Power.CHANGE_SETTINGS)
def keeping(request: StaffRequest) -> HttpResponse:
    erasures = Erasure.objects.select_related("certificate", "by")[:LATEST]
    context = {"rows": keep_table(timezone.localdate()), "erasures": erasures}
    return render(request, "backoffice/erasing/keeping.html", context)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def keep_rule(request: StaffRequest, kind: str) -> HttpResponse:
    row = next((row for row in keep_table(timezone.localdate()) if row.kind.name == kind), None)
    if row is None:
        raise Http404
    initial = {"years": row.rule.years, "why": row.rule.why, "since": timezone.localdate()}
    form = KeepRuleForm(request.POST or None, instance=KeepRule(kind=kind), initial=initial)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            set_keep_rule(kind=kind, **form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "Written down. What was erased before stays erased.")
            return redirect("backoffice:keeping")
    return render_form(
        request,
        form,
        heading=row.kind.label,
        submit="Save the rule",
        back=reverse("backoffice:keeping"),
        kicker="Keep or erase",
        intro=f"The years count from {row.kind.counted_from}. Rules differ by place and change: check with your"
        " insurer, tax office or lawyer before relying on it.",
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def person_kept(request: StaffRequest, pk: int) -> HttpResponse:
    """What is held about a person: what would go, what would stay and why; and the button that does it."""
    person, today = get_person_or_404(request, pk, Power.CHANGE_SETTINGS), timezone.localdate()
    form = EraseForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            asked = form.cleaned_data["asked"]
            erasure = erase_person(person=person, asked=asked, at=timezone.now(), by=request.user)
            messages.success(request, f"Erased. The certificate is number {erasure.pk}.")
            return redirect("backoffice:keeping")
    verdicts = verdicts_on(person, today)
    context = {
        "person": person,
        "form": form,
        "going": _by_kind([verdict for verdict in verdicts if not verdict.stays]),
        "staying": _by_kind([verdict for verdict in verdicts if verdict.stays]),
        "in_the_way": in_the_way(person, today),
    }
    return render(request, "backoffice/erasing/person.html", context, status=422 if form.errors else 200)


def _by_kind(verdicts: list[Verdict]) -> list[tuple[str, list[Verdict]]]:
    names = list(BY_NAME)
    ordered = sorted(verdicts, key=lambda verdict: names.index(verdict.held.kind))
    return [(BY_NAME[kind].label, list(group)) for kind, group in groupby(ordered, lambda verdict: verdict.held.kind)]


@require_POST
@needs(Power.CHANGE_SETTINGS)
def person_data(request: StaffRequest, pk: int) -> HttpResponse:
    """Everything held about a person, to hand over to them."""
    person = get_person_or_404(request, pk, Power.CHANGE_SETTINGS)
    content = hand_over(person=person, at=timezone.now(), by=request.user)
    return zip_answer(content, f"{slugify(person.name) or 'person'}-data.zip")
