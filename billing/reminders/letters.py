"""The letters about money that is owed."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.urls import reverse

from backoffice.access.models import User
from backoffice.business.queries import the_business
from backoffice.letters.actions import Draft, send_letter
from backoffice.letters.models import Letter
from backoffice.links.actions import full_address, issue_link
from backoffice.links.models import PrivateLink
from billing.invoices.models import Invoice
from billing.reminders.models import MoneyQuestion, Reminder
from clients.people.models import Person

PAGE_GOOD_FOR = timedelta(days=180)


def private_page(person: Person, *, at: datetime, by: User | None = None) -> str:
    """The address of a new private page of somebody's money."""
    _, token = issue_link(purpose=PrivateLink.Purpose.MONEY, target=person, at=at, valid_for=PAGE_GOOD_FOR, by=by)
    return full_address(reverse("billing:owner-money", args=[token]))


def send_invoice(invoice: Invoice, *, at: datetime, by: User | None) -> None:
    """Mail the invoice with the way to the private page."""
    send_letter(invoice_letter(invoice, private_page(invoice.payer, at=at, by=by)), at=at)


def invoice_letter(invoice: Invoice, address: str) -> Draft:
    return _with_paper(Letter.Kind.INVOICE, invoice, {"invoice": invoice, "address": address})


def send_reminder(reminder: Reminder, *, at: datetime, by: User | None) -> None:
    """Mail the letter with the invoice and the way to the private page."""
    address = private_page(reminder.invoice.payer, at=at, by=by)
    context = {"reminder": reminder, "address": address}
    send_letter(_with_paper(Letter.Kind.REMINDER, reminder.invoice, context), at=at)


def _with_paper(kind: Letter.Kind, invoice: Invoice, context: Mapping[str, object]) -> Draft:
    return Draft(
        kind=kind,
        to=invoice.payer.email,
        subject=f"{invoice}, {the_business().name}",
        about=invoice,
        person=invoice.payer,
        context=context,
        papers=[invoice.document] if invoice.document else [],
    )


def send_question(question: MoneyQuestion, *, at: datetime) -> None:
    address = full_address(reverse("billing:money-question", args=[question.pk]))
    send_letter(
        Draft(
            kind=Letter.Kind.MONEY_QUESTION,
            to=the_business().email,
            subject=f"{question.person} asks about an invoice",
            about=question,
            person=question.person,
            context={"question": question, "address": address},
            reply_to=question.person.email,
        ),
        at=at,
    )


def send_answer(question: MoneyQuestion, *, at: datetime) -> None:
    send_letter(
        Draft(
            kind=Letter.Kind.MONEY_ANSWER,
            to=question.person.email,
            subject="Your question about an invoice",
            about=question,
            person=question.person,
            context={"question": question},
        ),
        at=at,
    )
