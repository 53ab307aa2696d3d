from collections.abc import Sequence
from datetime import date, datetime, timedelta

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.refusal import Refused
from backoffice.ui import words
from billing.invoices.by_hand import charge_whole
from billing.invoices.models import Charge, Invoice, InvoiceRun
from billing.invoices.queries import invoices_shown, issued_in, to_be_mailed
from billing.reminders.letters import send_answer, send_invoice, send_question, send_reminder
from billing.reminders.models import MoneyQuestion, Reminder, ReminderStage
from billing.reminders.queries import due_for_a_reminder, paused_payers, words_of
from clients.people.models import Person

MOST_WAITING = 3
STARTERS = (
    (
        7,
        "Hello {name}, {invoice} over {open} was due on {due}. It may have crossed with your payment; if not, would "
        "you see to it? Any question, just ask.",
    ),
    (
        21,
        "Dear {name}, {invoice} over {open} is {days} days late. Please pay it this week, or tell me what stands in "
        "the way.",
    ),
    (
        45,
        "Dear {name}, {invoice} over {open} has been open since {due} in spite of two letters. Please call me, so that "
        "we agree how it is paid before I come again.",
    ),
)


@audit.action
def add_starter_stages(*, at: datetime, by: User) -> list[ReminderStage]:
    """Three letters to begin with, in a plain tone and without a fee: yours to change."""
    if ReminderStage.objects.exists():
        raise Refused("There are letters already.")
    made = [ReminderStage.objects.create(days=days, words=text) for days, text in STARTERS]
    for stage in made:
        audit.record("reminder stage saved", stage, at=at, by=by, changes={"days": stage.days})
    return made


@audit.action
def save_stage(*, stage: ReminderStage, at: datetime, by: User) -> ReminderStage:
    stage.save()
    changes = {"days": stage.days, "late_fee": stage.late_fee, "by_itself": stage.goes_by_itself}
    audit.record("reminder stage saved", stage, at=at, by=by, changes=changes)
    return stage


@audit.action
def draft_reminders(*, on: date, at: datetime) -> list[Reminder]:
    """A letter for each invoice that has come to a stage. An older letter that was not sent goes with it."""
    business = the_business()
    made = []
    for invoice, stage in due_for_a_reminder(on):
        Reminder.objects.filter(invoice=invoice, state=Reminder.State.DRAFTED).update(
            state=Reminder.State.DROPPED, settled_at=at
        )
        amount, due = words.money(invoice.open, business), words.day(invoice.due_on, on)
        text = words_of(stage, invoice, on=on, amount=amount, due=due)
        made.append(Reminder.objects.create(invoice=invoice, stage=stage, text=text, drafted_on=on))
        audit.record("reminder drafted", made[-1], at=at, by=None, changes={"invoice": invoice.pk, "days": stage.days})
    return made


@audit.action
def send_reminder_now(*, reminder: Reminder, by_mail: bool, at: datetime, by: User | None) -> Reminder:
    """It is mailed, or a person says that they sent it. The stage's late fee waits for the next invoice then."""
    reminder = _drafted(reminder)
    found = invoices_shown(local_date(at)).get(pk=reminder.invoice_id)
    if not found.open or found.open <= 0:
        raise Refused("Nothing of this invoice is open any more.")
    if found.payer_id in paused_payers().values_list("person", flat=True):
        raise Refused(f"{found.payer} asked something. Answer first.")
    if by_mail and not found.payer.email:
        raise Refused(f"No mail address of {found.payer} is on file.")
    reminder.by_mail = by_mail
    reminder.fee = _late_fee(reminder, found, at=at, by=by) if by is not None else None
    _settle(reminder, Reminder.State.SENT, at=at, by=by)
    audit.record("reminder sent", reminder, at=at, by=by, changes={"invoice": found.pk, "mail": by_mail})
    if by_mail:
        send_reminder(reminder, at=at, by=by)
    return reminder


@audit.action
def mail_invoice(*, invoice: Invoice, at: datetime, by: User) -> None:
    """Mail an issued invoice to its payer, with the way to their private page."""
    check_mailable(invoice)
    send_invoice(invoice, at=at, by=by)
    audit.record("invoice mailed", invoice, at=at, by=by)


def check_mailable(invoice: Invoice) -> None:
    if invoice.state != Invoice.State.ISSUED or invoice.document is None:
        raise Refused("Only an issued invoice with its PDF can be mailed.")
    if not invoice.payer.email:
        raise Refused(f"No mail address of {invoice.payer} is on file.")


def mail_run(*, run: InvoiceRun, at: datetime, by: User) -> int:
    """Mail what was issued together and not mailed yet, to each payer with an address; how many letters that makes."""
    waiting = to_be_mailed(issued_in(run))
    for invoice in waiting:
        mail_invoice(invoice=invoice, at=at, by=by)
    return len(waiting)


def _late_fee(reminder: Reminder, invoice: Invoice, *, at: datetime, by: User) -> Charge | None:
    amount = reminder.stage.late_fee
    if not amount:
        return None
    told = {"text": f"Late fee for {invoice}", "reason": f"{reminder.stage}, by your rule"}
    payer, on = invoice.payer, local_date(at)
    charge = charge_whole(kind=Charge.Kind.LATE_FEE, payer=payer, amount=amount, on=on, at=at, by=by, **told)
    audit.record("late fee charged", charge, at=at, by=by, changes={"amount": amount, "invoice": invoice.pk})
    return charge


@audit.action
def drop_reminder(*, reminder: Reminder, at: datetime, by: User) -> Reminder:
    """This letter is not sent; the next stage comes when its days are over."""
    reminder = _drafted(reminder)
    _settle(reminder, Reminder.State.DROPPED, at=at, by=by)
    audit.record("reminder dropped", reminder, at=at, by=by, changes={"invoice": reminder.invoice_id})
    return reminder


def mail_by_rule(drafts: Sequence[Reminder], *, at: datetime) -> int:
    """Those whose stage goes by itself, where nobody has to confirm a fee and an address is known."""
    sent = 0
    for draft in drafts:
        stage = draft.stage
        if stage.goes_by_itself and not stage.late_fee and draft.invoice.payer.email:
            send_reminder_now(reminder=draft, by_mail=True, at=at, by=None)
            sent += 1
    return sent


@audit.action
def ask_about_money(*, person: Person, text: str, at: datetime) -> MoneyQuestion:
    """Keep what a payer asks on their private page and mail it to the business; reminders to them wait."""
    waiting = MoneyQuestion.objects.filter(person=person, answered_at=None)
    same = waiting.filter(text=text).first()
    if same is not None:
        return same
    asked_today = MoneyQuestion.objects.filter(person=person, asked_at__gt=at - timedelta(days=1)).count()
    if waiting.count() >= MOST_WAITING or asked_today >= 2 * MOST_WAITING:
        raise Refused("Your questions wait for an answer already. We will write; or please call us.")
    question = MoneyQuestion.objects.create(person=person, text=text, asked_at=at)
    audit.record("money question asked", question, at=at, by=None, via="private link", changes={"person": person.pk})
    send_question(question, at=at)
    return question


@audit.action
def answer_about_money(*, question: MoneyQuestion, answer: str, at: datetime, by: User) -> MoneyQuestion:
    question = MoneyQuestion.objects.select_for_update(of=("self",)).select_related("person").get(pk=question.pk)
    if question.answered_at is not None:
        raise Refused("This question is answered already.")
    question.answer, question.answered_at, question.answered_by = answer.strip(), at, by
    question.save()
    audit.record("money question answered", question, at=at, by=by, changes={"person": question.person_id})
    send_answer(question, at=at)
    return question


def _drafted(reminder: Reminder) -> Reminder:
    reminder = Reminder.objects.select_for_update(of=("self",)).select_related("stage", "invoice").get(pk=reminder.pk)
    if reminder.state != Reminder.State.DRAFTED:
        raise Refused("Somebody has dealt with this letter already.")
    return reminder


def _settle(reminder: Reminder, state: Reminder.State, *, at: datetime, by: User | None) -> None:
    reminder.state, reminder.settled_at, reminder.settled_by = state, at, by
    reminder.save()
