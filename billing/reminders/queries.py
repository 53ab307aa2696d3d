from datetime import date
from typing import Any

from django.db.models import QuerySet

from billing.invoices.models import Invoice
from billing.invoices.queries import invoices_shown, owed_invoices
from billing.reminders.models import MoneyQuestion, Reminder, ReminderStage


def reminders_waiting(on: date) -> list[Reminder]:
    """Drafts of invoices that are still open, each invoice with what it is by now; paused payers left out."""
    drafts = list(
        Reminder.objects.filter(state=Reminder.State.DRAFTED)
        .exclude(invoice__payer__in=paused_payers())
        .select_related("invoice__payer", "stage")
        .order_by("stage__days", "pk")
    )
    still_open = dict(
        invoices_shown(on).filter(pk__in=[draft.invoice_id for draft in drafts], open__gt=0).values_list("pk", "open")
    )
    waiting = [draft for draft in drafts if draft.invoice_id in still_open]
    for draft in waiting:
        draft.invoice.open = still_open[draft.invoice_id]
    return waiting


def paused_payers() -> QuerySet[Any]:
    """Payers with a question that nobody has answered."""
    return questions_waiting().values("person")


def questions_waiting() -> QuerySet[MoneyQuestion]:
    return MoneyQuestion.objects.filter(answered_at=None).select_related("person")


def due_for_a_reminder(on: date) -> list[tuple[Invoice, ReminderStage]]:
    """Open invoices of payers who asked nothing, each with the furthest stage that it has come to and not had yet."""
    stages = list(ReminderStage.objects.order_by("-days"))
    if not stages:
        return []
    had = set(Reminder.objects.values_list("invoice", "stage__days"))
    late = owed_invoices().filter(due_on__lt=on).exclude(payer__in=paused_payers())
    found = []
    for invoice in late:
        days_late = (on - invoice.due_on).days
        stage = next((stage for stage in stages if stage.days <= days_late), None)
        reminded = max((days for pk, days in had if pk == invoice.pk), default=0)
        if stage is not None and stage.days > reminded:
            found.append((invoice, stage))
    return found


def words_of(stage: ReminderStage, invoice: Invoice, *, on: date, amount: str, due: str) -> str:
    said = {
        "{name}": invoice.payer.name,
        "{invoice}": str(invoice),
        "{open}": amount,
        "{due}": due,
        "{days}": str((on - invoice.due_on).days) if invoice.due_on else "",
    }
    text = stage.words
    for name, value in said.items():
        text = text.replace(name, value)
    return text
