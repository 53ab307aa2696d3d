"""The letters about money that is owed."""

from datetime import timedelta

from django.urls import reverse
from django.utils import timezone

from backoffice.access.models import User
from backoffice.business.letters import send_letter
from backoffice.business.queries import the_business
from backoffice.documents.queries import bytes_of
from backoffice.links.actions import full_address, issue_link
from backoffice.links.models import PrivateLink
from billing.reminders.models import MoneyQuestion, Reminder
from clients.people.models import Person

PAGE_GOOD_FOR = timedelta(days=180)


def private_page(person: Person, *, by: User | None = None) -> str:
    """The address of a new private page of somebody's money."""
    _, token = issue_link(
        purpose=PrivateLink.Purpose.MONEY, target=person, at=timezone.now(), valid_for=PAGE_GOOD_FOR, by=by
    )
    return full_address(reverse("billing:owner-money", args=[token]))


def send_reminder(reminder_pk: int) -> None:
    """Mail the letter with the invoice and the way to the private page."""
    reminder = Reminder.objects.select_related("invoice__payer", "invoice__document").get(pk=reminder_pk)
    invoice = reminder.invoice
    papers = [(f"{invoice.name}.pdf", bytes_of(invoice.document))] if invoice.document else []
    context = {"reminder": reminder, "address": private_page(invoice.payer)}
    send_letter("reminder", f"{invoice}, {the_business().name}", invoice.payer.email, context, papers=papers)


def send_question(question_pk: int) -> None:
    question = MoneyQuestion.objects.select_related("person").get(pk=question_pk)
    address = full_address(reverse("billing:money-question", args=[question.pk]))
    subject = f"{question.person} asks about an invoice"
    context = {"question": question, "address": address}
    send_letter("money_question", subject, the_business().email, context, reply_to=question.person.email)


def send_answer(question_pk: int) -> None:
    question = MoneyQuestion.objects.select_related("person").get(pk=question_pk)
    send_letter("money_answer", "Your question about an invoice", question.person.email, {"question": question})
