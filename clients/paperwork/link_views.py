"""The pages of people without an account: an owner signs, a vet answers. Opening a page changes nothing."""

import re

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.business.models import Business
from backoffice.documents.views import answer_with
from backoffice.links.doors import by_link
from backoffice.links.models import PrivateLink
from backoffice.ui.forms import showing_refusal
from clients.paperwork import referring, signing
from clients.paperwork.facts import KINDS_OF_WORK
from clients.paperwork.forms import OwnerSignForm, VetForm
from clients.paperwork.models import Form, VetReferral
from clients.paperwork.queries import forms_listed, referrals_listed
from clients.paperwork.signers import capacities_of, text_of
from clients.paperwork.views import address_of, device_of

PRIVATE_PAGE = re.compile(r"/p/[a-z]+/[A-Za-z0-9_-]{20,100}/")


def _business(request: HttpRequest) -> Business:
    business: Business = request.business  # type: ignore[attr-defined]
    return business


def _form_behind(link: PrivateLink) -> Form:
    """The door of a form for its signer: the link opens this one row."""
    rows = forms_listed().select_related("signer__guardian", "animal__barn", "agent", "document", "signature")
    return get_object_or_404(rows, pk=link.target_pk)


def _way_back(request: HttpRequest) -> str:
    """The private page that led here, if one did; nothing but an address of our own private pages counts."""
    back = request.GET.get("back", "")
    return back if PRIVATE_PAGE.fullmatch(back) else ""


@require_http_methods(["GET", "POST"])
@by_link(PrivateLink.Purpose.FORM)
def owner_form(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    row, back = _form_behind(link), _way_back(request)
    if row.state != Form.State.TO_SIGN:
        return render(request, "clients/paperwork/owner_signed.html", {"row": row, "token": token, "back": back})
    today, business = timezone.localdate(), _business(request)
    text = text_of(row, on=today, business=business)
    capacities = capacities_of(row, on=today, business=business)
    initial = {"read": signing.digest_of(text)}
    sign = OwnerSignForm(request.POST or None, row=row, capacities=capacities, initial=initial)
    if request.method == "POST" and sign.is_valid():
        with showing_refusal(sign):
            signing.sign_form(
                form=row,
                **sign.signed(),
                device=device_of(request),
                address=address_of(request),
                at=timezone.now(),
                link=link,
            )
            return redirect(request.get_full_path() if back else request.path)
    context = {"form": sign, "row": row, "text": text, "may_sign": bool(capacities), "back": back}
    return render(request, "clients/paperwork/owner_form.html", context, status=422 if sign.errors else 200)


@require_GET
@by_link(PrivateLink.Purpose.FORM)
def owner_form_copy(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    row = _form_behind(link)
    if row.document is None:
        raise Http404
    return answer_with(row.document, request)


def _referral_behind(link: PrivateLink) -> VetReferral:
    """The door of a request for the vet who was asked: the link opens this one row."""
    return get_object_or_404(referrals_listed().select_related("animal__barn", "document"), pk=link.target_pk)


@require_http_methods(["GET", "POST"])
@by_link(PrivateLink.Purpose.REFERRAL)
def vet_referral(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    row = _referral_behind(link)
    if row.answer != VetReferral.Answer.WAITING:
        services = [KINDS_OF_WORK.get(kind, kind) for kind in row.service_kinds]
        context = {"referral": row, "services": services, "token": token}
        return render(request, "clients/paperwork/vet_answered.html", context)
    today = timezone.localdate()
    initial = {"vet_name": row.practice.vet_name, "since": today}
    answer = VetForm(request.POST or None, today=today, initial=initial)
    if request.method == "POST" and answer.is_valid():
        with showing_refusal(answer):
            referring.answer_referral(referral=row, word=answer.word(), at=timezone.now(), link=link)
            return redirect("clients:vet-referral", token=token)
    context = {"form": answer, "referral": row}
    return render(request, "clients/paperwork/vet_referral.html", context, status=422 if answer.errors else 200)


@require_GET
@by_link(PrivateLink.Purpose.REFERRAL)
def vet_referral_copy(request: HttpRequest, link: PrivateLink, token: str) -> HttpResponse:
    row = _referral_behind(link)
    if row.document is None:
        raise Http404
    return answer_with(row.document, request)
