from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.links.actions import NO_TOKEN, full_address, revoke_links
from backoffice.links.models import PrivateLink
from backoffice.ui.forms import render_form, showing_refusal
from billing.invoices.models import InvoiceRun
from billing.invoices.queries import get_invoice_or_404, open_invoices
from billing.payments.queries import get_payer_or_404
from billing.reminders.actions import (
    add_starter_stages,
    answer_about_money,
    check_mailable,
    draft_reminders,
    drop_reminder,
    mail_invoice,
    mail_run,
    save_stage,
    send_reminder_now,
)
from billing.reminders.forms import AnswerMoneyForm, StageForm
from billing.reminders.letters import invoice_letter, private_page
from billing.reminders.models import MoneyQuestion, Reminder, ReminderStage
from billing.reminders.queries import due_for_a_reminder, questions_waiting, reminders_waiting

LATEST = 15


@require_GET
@needs(Power.SEE_MONEY)
def reminders(request: StaffRequest) -> HttpResponse:
    """Letters that wait to be sent, who asked something, and what was sent."""
    today = timezone.localdate()
    sent = Reminder.objects.filter(state=Reminder.State.SENT).select_related("invoice__payer", "stage")
    context = {
        "drafts": reminders_waiting(today),
        "due": len(due_for_a_reminder(today)),
        "questions": questions_waiting(),
        "sent": sent.order_by("-settled_at")[:LATEST],
        "has_stages": ReminderStage.objects.exists(),
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/reminders/reminders.html", context)


@require_POST
@needs(Power.CHANGE_MONEY)
def reminders_draft(request: StaffRequest) -> HttpResponse:
    made = draft_reminders(on=timezone.localdate(), at=timezone.now())
    messages.success(request, f"{len(made)} letter{'s' if len(made) != 1 else ''} drafted.")
    return redirect("billing:reminders")


@require_POST
def reminder_send(request: StaffRequest, pk: int) -> HttpResponse:
    """Mailed from here (`mail`), or sent by hand and said so."""
    draft = _get_reminder_or_404(request, pk)
    sent = send_reminder_now(reminder=draft, by_mail="mail" in request.POST, at=timezone.now(), by=request.user)
    fee = " Its fee waits for their next invoice." if sent.fee_id else ""
    messages.success(request, f"The letter about {sent.invoice} is sent.{fee}")
    return redirect("billing:reminders")


@require_http_methods(["GET", "HEAD", "POST"])
def invoice_mail(request: StaffRequest, pk: int) -> HttpResponse:
    """The letter to read first; then it goes."""
    invoice = get_invoice_or_404(request, pk, timezone.localdate(), Power.CHANGE_MONEY)
    if request.method != "POST":
        check_mailable(invoice)
        letter = invoice_letter(invoice, full_address(reverse("billing:owner-money", args=[NO_TOKEN])))
        return render(request, "billing/reminders/invoice_mail.html", {"invoice": invoice, "letter": letter})
    mail_invoice(invoice=invoice, at=timezone.now(), by=request.user)
    messages.success(request, f"The letter with {invoice} is written. It goes to {invoice.payer.email}.")
    return redirect(invoice)


@require_POST
@needs(Power.CHANGE_MONEY)
def run_mail(request: StaffRequest, pk: int) -> HttpResponse:
    run = get_object_or_404(InvoiceRun, pk=pk)
    count = mail_run(run=run, at=timezone.now(), by=request.user)
    messages.success(request, f"{count} letter{'s' if count != 1 else ''} written. Letters says which have gone.")
    return redirect("billing:invoice-run", run.pk)


@require_POST
def reminder_drop(request: StaffRequest, pk: int) -> HttpResponse:
    drop_reminder(reminder=_get_reminder_or_404(request, pk), at=timezone.now(), by=request.user)
    return redirect("billing:reminders")


def _get_reminder_or_404(request: HttpRequest, pk: int) -> Reminder:
    demand(request, Power.CHANGE_MONEY)
    return get_object_or_404(Reminder, pk=pk)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def money_question(request: StaffRequest, pk: int) -> HttpResponse:
    question = get_object_or_404(MoneyQuestion.objects.select_related("person"), pk=pk)
    form = AnswerMoneyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            answer_about_money(
                question=question, answer=form.cleaned_data["answer"], at=timezone.now(), by=request.user
            )
            messages.success(request, "The answer is on its way.")
            return redirect("billing:reminders")
    owed = open_invoices(question.person, timezone.localdate())
    return render_form(
        request,
        form,
        heading=f"{question.person} asks",
        kicker="Money",
        submit="Send the answer",
        back=reverse("billing:payer", args=[question.person_id]),
        intro=question.text,
        template="billing/reminders/question.html",
        context={"question": question, "owed": owed},
    )


@require_http_methods(["GET", "POST"])
def payer_page(request: StaffRequest, pk: int) -> HttpResponse:
    """The address of somebody's private page: made, made anew or closed by a button; shown once, when it is made."""
    person = get_payer_or_404(request, pk, Power.CHANGE_MONEY)
    made, purpose, at = None, PrivateLink.Purpose.MONEY, timezone.now()
    if request.method == "POST":
        closed = revoke_links(purpose=purpose, target=person, at=at, by=request.user)
        if "close" in request.POST:
            messages.success(request, "The page is closed." if closed else "There was no page.")
            return redirect("billing:payer", person.pk)
        made = private_page(person, at=at, by=request.user)
    links = PrivateLink.objects.filter(purpose=purpose, target_pk=person.pk, revoked_at=None, expires_at__gt=at)
    context = {"person": person, "made": made, "link": links.order_by("-pk").first()}
    return render(request, "billing/reminders/payer_page.html", context)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def stages(request: StaffRequest) -> HttpResponse:
    if request.method == "POST":
        add_starter_stages(at=timezone.now(), by=request.user)
        return redirect("billing:reminder-stages")
    return render(request, "billing/reminders/stages.html", {"stages": ReminderStage.objects.all()})


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def stage_new(request: StaffRequest) -> HttpResponse:
    return _stage(request, ReminderStage())


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def stage_change(request: StaffRequest, pk: int) -> HttpResponse:
    return _stage(request, get_object_or_404(ReminderStage, pk=pk))


def _stage(request: StaffRequest, stage: ReminderStage) -> HttpResponse:
    currency = request.business.currency  # type: ignore[attr-defined]
    form = StageForm(request.POST or None, instance=stage, currency=currency)
    if request.method == "POST" and form.is_valid():
        saved = save_stage(stage=form.save(commit=False), at=timezone.now(), by=request.user)
        messages.success(request, f"The letter at {saved} is kept.")
        return redirect("billing:reminder-stages")
    return render_form(
        request,
        form,
        heading="A letter about what is late",
        kicker="Settings",
        submit="Keep it",
        back=reverse("billing:reminder-stages"),
    )
