"""What needs attention on the money side."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.urls import reverse
from django.utils.text import Truncator

from backoffice.home.blocks import Block, Row, plural
from backoffice.home.queries import lean_money, overdue_invoices, quotes_waiting
from backoffice.ui.words import day as day_words
from backoffice.ui.words import local
from billing.invoices.queries import uncharged_places
from billing.payments.queries import money_from_the_barn
from billing.quotes.openings import openings_of
from billing.quotes.questions import questions_waiting
from billing.reminders.queries import questions_waiting as money_questions_waiting


def from_the_barn(on: date) -> Block:
    """Cash and checks taken in the barn that nobody has booked as a payment."""
    rows = tuple(
        Row(
            name=str(taken.person),
            href=f"{reverse('billing:payment-new', args=[taken.person_id])}?barn={taken.pk}",
            sentence=f"{taken.get_method_display()}, {taken.visit.animal} at {taken.visit.barn}",
            day=local(taken.taken_at),
            amount=taken.amount,
        )
        for taken in lean_money(money_from_the_barn())
    )
    return Block("barn-money", "Money taken in the barn", rows, sentence="Book it, and the receipt is made.")


def uncharged(on: date) -> Block:
    """Finished work that nobody has charged or waived, day by day, the oldest first; what it costs stands there."""
    waiting = uncharged_places(on)
    where = reverse("billing:uncharged")
    rows = tuple(
        Row(name=day_words(day, on), href=f"{where}?day={day.isoformat()}", sentence=_at_barns(barns))
        for day, barns in waiting.items()
    )
    return Block(
        key="uncharged",
        title="Work not yet charged",
        rows=rows,
        sentence=f"The oldest of {day_words(min(waiting), on)}." if waiting else "",
        is_pressing=True,
        all_href=where,
    )


def _at_barns(barns: Sequence[str]) -> str:
    if not barns:
        return "prepaid"
    names = sorted(set(barns))
    return f"{plural(len(barns), 'visit')}, {names[0] if len(names) == 1 else plural(len(names), 'barn')}"


def overdue(on: date) -> Block:
    invoices = list(overdue_invoices(on))
    rows = tuple(
        Row(
            name=invoice.payer.name,
            href=invoice.get_absolute_url(),
            sentence=f"{invoice}, due {day_words(invoice.due_on, on)}",
            amount=invoice.open,
        )
        for invoice in invoices
    )
    oldest = f"{plural(len(rows), 'invoice')}, the oldest due {day_words(invoices[0].due_on, on)}." if rows else ""
    return Block(
        key="overdue",
        title="Overdue",
        rows=rows,
        sentence=oldest,
        amount=sum((invoice.open for invoice in invoices), Decimal(0)),
        all_href=f"{reverse('billing:invoices')}?shown=overdue",
    )


def questions(on: date) -> Block:
    """What owners ask on the page of a quote, or about an invoice, and nobody has answered."""
    about_money = tuple(
        Row(
            name=question.person.name,
            href=reverse("billing:money-question", args=[question.pk]),
            sentence=Truncator(question.text).chars(90),
            day=local(question.asked_at),
        )
        for question in money_questions_waiting()
    )
    rows = about_money + tuple(
        Row(
            name=question.quote.person.name,
            href=reverse("billing:question-answer", args=[question.pk]),
            sentence=Truncator(question.text).chars(90),
            day=local(question.asked_at),
        )
        for question in questions_waiting()
    )
    return Block("questions", "Questions of owners", rows)


def quotes(on: date) -> Block:
    waiting = quotes_waiting(on)
    openings = openings_of(waiting)
    rows = tuple(
        Row(
            name=quote.person.name,
            href=quote.get_absolute_url(),
            sentence=f"{quote.title}, {openings[quote.pk].words(on)}",
            day=quote.expires_on,
        )
        for quote in waiting
    )
    return Block(
        key="quotes",
        title="Quotes waiting for an answer",
        rows=rows,
        all_href=f"{reverse('billing:quotes')}?state=offered",
    )
