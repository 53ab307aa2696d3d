"""Paper that was signed with a pen, and letters: printed to take along, scanned in."""

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.documents.views import answer_with_pdf
from backoffice.refusal import Refused
from backoffice.ui.forms import render_form, showing_refusal
from clients.paperwork import on_paper, referring
from clients.paperwork.models import Form, VetReferral
from clients.paperwork.queries import get_form_or_404, get_referral_or_404
from clients.paperwork.scan_forms import LetterForm, PaperForm
from clients.paperwork.signers import capacities_of
from clients.paperwork.views import the_business_of


@require_GET
@needs(Power.SEE_CARE)
def form_print(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_form_or_404(request, pk)
    return answer_with_pdf(on_paper.paper_to_sign(row, on=timezone.localdate()), name=f"To sign, {row}")


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
def form_on_paper(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_form_or_404(request, pk, Power.CHANGE_CARE)
    if row.state != Form.State.TO_SIGN:
        raise Refused("This form is not to sign any more. Ask for a new one.")
    today = timezone.localdate()
    capacities = capacities_of(row, on=today, business=the_business_of(request))
    paper = PaperForm(request.POST or None, request.FILES or None, row=row, capacities=capacities, today=today)
    if request.method == "POST" and paper.is_valid():
        with showing_refusal(paper):
            on_paper.sign_on_paper(form=row, **paper.cleaned_data, at=timezone.now(), by=request.user)
            messages.success(request, "Kept: the scan is sealed below, each file as given beside it.")
            return redirect(row)
    return render_form(
        request,
        paper,
        heading="It was signed on paper",
        submit="Keep the signed paper",
        back=row.get_absolute_url(),
        kicker=str(row),
        template="clients/paperwork/on_paper.html",
        context={"row": row, "may_sign": bool(capacities)},
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_CARE)
@needs(Power.SEE_HEALTH)
def referral_letter(request: StaffRequest, pk: int) -> HttpResponse:
    row = get_referral_or_404(request, pk, Power.CHANGE_CARE)
    if row.answer != VetReferral.Answer.WAITING:
        raise Refused("This request is already answered. A new request can be made.")
    initial = {"vet_name": row.practice.vet_name}
    letter = LetterForm(request.POST or None, request.FILES or None, today=timezone.localdate(), initial=initial)
    if request.method == "POST" and letter.is_valid():
        with showing_refusal(letter):
            referring.record_letter(
                referral=row, word=letter.word(), letter=letter.letter(), at=timezone.now(), by=request.user
            )
            messages.success(request, "The vet’s letter is kept. Permission to work follows it from now on.")
            return redirect(row)
    return render_form(
        request,
        letter,
        heading="The vet’s letter",
        submit="Keep the letter",
        back=row.get_absolute_url(),
        kicker=str(row.animal),
        intro="Write down what the letter says and nothing more. A telephone answer is a note and lifts nothing.",
    )
