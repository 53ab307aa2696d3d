"""The practitioner's own wordings and what they found the law to be."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.paperwork import actions
from clients.paperwork.filling import FIELDS, filled
from clients.paperwork.forms import LawForm, VersionForm, WordingForm
from clients.paperwork.queries import get_wording_or_404, laws_by_place, newest_version, wordings_listed
from clients.paperwork.starters import STARTERS

EXAMPLE = {
    "horse": "Biscuit",
    "owner": "Ottilie Brackwater",
    "signer": "Ottilie Brackwater",
    "barn": "Copper Hasp Stables",
    "agent": "Corin Ashlund",
    "cap": "300.00",
}


@require_GET
@needs(Power.CHANGE_SETTINGS)
def wordings(request: StaffRequest) -> HttpResponse:
    rows = list(wordings_listed())
    missing = {starter.kind for starter in STARTERS} - {row.kind for row in rows}
    return render(request, "clients/paperwork/wordings.html", {"wordings": rows, "may_add_starters": bool(missing)})


@require_POST
@needs(Power.CHANGE_SETTINGS)
def wording_starters(request: StaffRequest) -> HttpResponse:
    added = actions.add_starter_wordings(at=timezone.now(), by=request.user)
    messages.success(
        request, f"{len(added)} starting texts added. They are not legal advice: have them read before you use them."
    )
    return redirect("clients:wordings")


@require_GET
@needs(Power.CHANGE_SETTINGS)
def wording(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_wording_or_404(request, pk)
    versions = list(row.versions.order_by("-number"))
    return render(request, "clients/paperwork/wording.html", {"wording": row, "versions": versions})


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def wording_new(request: StaffRequest) -> HttpResponse:
    form = WordingForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            version = actions.add_wording(**form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"{version} is in use from today.")
            return redirect(version.wording)
    return _editor(request, form, heading="New wording", back=reverse("clients:wordings"))


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def wording_version_new(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_wording_or_404(request, pk)
    newest = newest_version(row)
    kept = ("text", "valid_months", "signed_by", "place", "warning", "warning_source", "warning_on")
    initial = {name: getattr(newest, name) for name in kept} if newest else {}
    form = VersionForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            version = actions.publish_wording_version(
                wording=row, **form.cleaned_data, at=timezone.now(), by=request.user
            )
            messages.success(request, f"{version} is in use from today. Signed forms keep the text that was signed.")
            return redirect(row)
    return _editor(request, form, heading="New version", back=row.get_absolute_url(), kicker=str(row))


@require_POST
@needs(Power.CHANGE_SETTINGS)
def wording_preview(request: StaffRequest) -> HttpResponse:
    """The text of the editor as a signer would read it, with an invented horse; nothing is saved."""
    business = request.business  # type: ignore[attr-defined]
    text = filled(request.POST.get("text", "")[: actions.LONGEST_TEXT], {**EXAMPLE, "business": business.name})
    htmx = request.htmx  # type: ignore[attr-defined]
    pasted = request.POST.get("warning", "")[: actions.LONGEST_TEXT]
    context = {"text": text, "warning": pasted, "source": request.POST.get("warning_source", "")[:300]}
    return render(request, f"clients/paperwork/{'_preview' if htmx else 'preview'}.html", context)


def _editor(
    request: StaffRequest, form: VersionForm, *, heading: str, back: str, kicker: str = "Wordings"
) -> HttpResponse:
    return render_form(
        request,
        form,
        heading=heading,
        submit="Publish",
        back=back,
        kicker=kicker,
        template="clients/paperwork/wording_form.html",
        context={"fields": list(FIELDS.items())},
    )


@require_GET
@needs(Power.CHANGE_SETTINGS)
def laws(request: StaffRequest) -> HttpResponse:
    place = request.business.place_of_law  # type: ignore[attr-defined]
    return render(request, "clients/paperwork/laws.html", {"laws": laws_by_place(), "here": place})


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def law_new(request: StaffRequest) -> HttpResponse:
    place = request.business.place_of_law  # type: ignore[attr-defined]
    form = LawForm(request.POST or None, initial={"place": place, "uses_machine": "yes"})
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            actions.record_law(**form.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "Written down with today's date. Earlier records stay readable.")
            return redirect("clients:laws")
    return render_form(
        request,
        form,
        heading="What the law says here",
        submit="Write it down",
        back=reverse("clients:laws"),
        kicker="Laws of places",
        intro="Rules differ by place and change. Write down what you found, and check it with your licensing board,"
        " insurer or lawyer before relying on it.",
    )
