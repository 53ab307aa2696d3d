from urllib.parse import quote

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.links.actions import full_address
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from clients.animals.models import Animal
from clients.animals.queries import owners_on
from clients.paperwork import actions, signing
from clients.paperwork.forms import AskForm, CloseStopNoteForm, SignForm
from clients.paperwork.models import Form, Wording, WordingVersion
from clients.paperwork.queries import (
    forms_listed_on,
    get_decision_or_404,
    get_form_or_404,
    get_stop_note_or_404,
    must_be_signed_again,
    newest_versions,
    paperwork_on,
)
from clients.paperwork.signers import capacities_of, text_of
from clients.paperwork.strokes import svg_path
from clients.paperwork.tables import FormFilter, FormTable
from clients.paperwork.telling import facts_in_words


@require_GET
@needs(Power.SEE_CARE)
def paperwork(request: StaffRequest) -> HttpResponse:
    today, business = timezone.localdate(), the_business_of(request)
    desk = paperwork_on(today, notice_days=business.consent_notice_days)
    context = {"desk": desk, "today": today, "has_wordings": Wording.objects.exists()}
    return render(request, "clients/paperwork/paperwork.html", context)


@require_GET
@needs(Power.SEE_CARE)
def forms(request: StaffRequest) -> HttpResponse:
    new = ("New form", reverse("clients:form-new")) if request.user.may(Power.CHANGE_CARE) else None
    return render_list(
        request,
        table_class=FormTable,
        filterset=FormFilter(request.GET, queryset=forms_listed_on(timezone.localdate())),
        heading="Forms",
        new=new,
        empty=("No form yet", "A form is one paper for one signer about one horse or barn.", *(new or ())),
    )


@require_GET
@needs(Power.SEE_CARE)
def form(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_form_or_404(request, pk)
    today, business = timezone.localdate(), the_business_of(request)
    signature = getattr(row, "signature", None)
    return render(
        request,
        "clients/paperwork/form.html",
        {
            "row": row,
            "today": today,
            "signature": signature,
            "scans": row.scans.order_by("pk"),
            "path": svg_path(signature.strokes) if signature else "",
            "text": signature.text if signature else text_of(row, on=today, business=business),
            "sign_again": row.state == Form.State.SIGNED and must_be_signed_again(row, today),
        },
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def form_new(request: StaffRequest) -> HttpResponse:
    versions = newest_versions()
    ask = AskForm(request.POST or None, versions=versions, initial=_initial_of_new_form(request, versions))
    if request.method == "POST" and ask.is_valid():
        with showing_refusal(ask):
            row = signing.ask_to_sign(**ask.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"{row.signer} has a form to sign. Sign here, or make a private link.")
            return redirect(row)
    back = reverse("clients:paperwork")
    return render_form(request, ask, heading="New form", submit="Make the form", back=back, kicker="Paperwork")


def _initial_of_new_form(request: StaffRequest, versions: list[WordingVersion]) -> dict[str, object]:
    """What the address names; else a consent, signed by the one owner of the horse."""
    given: dict[str, object] = {name: request.GET.get(name, "") for name in ("animal", "signer", "barn")}
    wanted = request.GET.get("animal", "")[:18]
    animal = Animal.objects.filter(pk=int(wanted)).first() if wanted.isdecimal() else None
    if animal is not None and not given["signer"]:
        owners = owners_on([animal], timezone.localdate())[animal.pk]
        given["signer"] = owners[0].person_id if len(owners) == 1 else ""
    wording = request.GET.get("wording")
    fitting = [v.pk for v in versions if str(v.wording_id) == wording]
    fitting += [v.pk for v in versions if v.wording.kind == Wording.Kind.CONSENT]
    given["version"] = fitting[0] if fitting else ""
    return given


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def form_sign(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_form_or_404(request, pk, Power.CHANGE_CARE)
    today, business = timezone.localdate(), the_business_of(request)
    text = text_of(row, on=today, business=business)
    initial = {"read": signing.digest_of(text)}
    capacities = capacities_of(row, on=today, business=business)
    sign = SignForm(request.POST or None, row=row, capacities=capacities, initial=initial)
    if request.method == "POST" and sign.is_valid():
        with showing_refusal(sign):
            signing.sign_form(
                form=row,
                **sign.signed(),
                device=device_of(request),
                address=address_of(request),
                at=timezone.now(),
                witnessed_by=request.user,
            )
            messages.success(request, "Signed. The sealed paper is below; print it or send it to the signer.")
            return redirect(row)
    return render_form(
        request,
        sign,
        heading=row.wording_version.wording.title,
        submit="Sign",
        back=row.get_absolute_url(),
        kicker=str(row.animal or row.barn or row.signer),
        template="clients/paperwork/sign.html",
        context={"row": row, "text": text, "may_sign": bool(capacities)},
    )


def device_of(request: HttpRequest) -> str:
    """What the browser says it is, kept as evidence beside a signature."""
    return request.headers.get("User-Agent", "")[:300]


def address_of(request: HttpRequest) -> str | None:
    return request.META.get("REMOTE_ADDR") or None


def the_business_of(request: StaffRequest) -> Business:
    business: Business = request.business  # type: ignore[attr-defined]
    return business


@require_POST
@needs(Power.CHANGE_CARE)
def form_link(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_form_or_404(request, pk, Power.CHANGE_CARE)
    token = signing.link_to_sign(form=row, at=timezone.now(), by=request.user)
    return show_link(
        request,
        back=row.get_absolute_url(),
        path=reverse("clients:owner-form", args=[token]),
        reader=row.signer.name,
        email=row.signer.email,
        subject=f"{row.wording_version.wording.title}: to read and sign",
    )


def show_link(request: StaffRequest, *, back: str, path: str, reader: str, email: str, subject: str) -> HttpResponse:
    """The address, shown this once: only its digest is kept."""
    address = full_address(path)
    business = the_business_of(request)
    body = f"Hello {reader},\n\nplease open this private page: {address}\n\n{business.name}"
    mail = f"mailto:{quote(email)}?subject={quote(subject)}&body={quote(body)}" if email else ""
    context = {"address": address, "reader": reader, "mail": mail, "back": back}
    response = render(request, "clients/paperwork/link.html", context)
    response["Cache-Control"] = "no-store"
    return response


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def form_withdraw(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_form_or_404(request, pk, Power.CHANGE_CARE)
    if request.method == "POST":
        signing.withdraw_form(form=row, at=timezone.now(), by=request.user)
        messages.success(request, "Withdrawn from today on. What was signed stays readable.")
        return redirect(row)
    return render(request, "clients/paperwork/withdraw.html", {"row": row})


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def stop_note_close(request: StaffRequest, pk: int) -> HttpResponse:
    note = get_stop_note_or_404(request, pk)
    close = CloseStopNoteForm(request.POST or None)
    if request.method == "POST" and close.is_valid():
        with showing_refusal(close):
            actions.close_stop_note(note=note, **close.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, f"The stop note of {note.animal} is closed.")
            return redirect("clients:paperwork")
    return render_form(
        request,
        close,
        heading="Close the stop note",
        submit="Close the note",
        back=reverse("clients:paperwork"),
        kicker=str(note.animal),
        template="clients/paperwork/stop_note_close.html",
        context={"note": note},
    )


@require_GET
@needs(Power.SEE_HEALTH)
def decision(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_decision_or_404(request, pk)
    return render(request, "clients/paperwork/decision.html", {"decision": row, "told": facts_in_words(row.facts)})
