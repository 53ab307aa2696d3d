"""What needs attention on the money side."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.urls import reverse
from django.utils.text import Truncator

from backoffice.home.blocks import Block, Row, plural
from backoffice.home.queries import overdue_invoices, quotes_waiting
from backoffice.ui.words import day as day_words
from backoffice.ui.words import local
from billing.invoices.proposals import Proposal
from billing.invoices.queries import proposals_by_day, uncharged_days
from billing.quotes.openings import openings_of
from billing.quotes.questions import questions_waiting


def uncharged(on: date) -> Block:
    """Finished work that nobody has charged or waived, day by day, the oldest first."""
    by_day = proposals_by_day(uncharged_days(on))
    proposals = [proposal for found in by_day.values() for proposal in found]
    where = reverse("billing:uncharged")
    rows = tuple(
        Row(
            name=day_words(day, on),
            href=f"{where}?day={day.isoformat()}",
            sentence=f"{_pieces(found)}, {_barns(found)}",
            amount=_sum(found),
        )
        for day, found in sorted(by_day.items())
    )
    return Block(
        key="uncharged",
        title="Work not yet charged",
        rows=rows,
        sentence=_uncharged_words(proposals, min(by_day, default=on), on),
        amount=_sum(proposals),
        is_pressing=True,
        all_href=where,
    )


def _uncharged_words(proposals: Sequence[Proposal], oldest: date, on: date) -> str:
    without = sum(1 for proposal in proposals if proposal.missing)
    lacking = f" {plural(without, 'piece')} cannot be charged yet: something is missing." if without else ""
    return f"{_pieces(proposals)}, the oldest of {day_words(oldest, on)}.{lacking}"


def _pieces(proposals: Sequence[Proposal]) -> str:
    return plural(len(proposals), "charge")


def _barns(proposals: Sequence[Proposal]) -> str:
    names = sorted({proposal.place for proposal in proposals if proposal.place})
    if not names:
        return "prepaid"
    return names[0] if len(names) == 1 else plural(len(names), "barn")


def _sum(proposals: Sequence[Proposal]) -> Decimal:
    return sum((proposal.amount or Decimal(0) for proposal in proposals), Decimal(0))


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
    """What owners ask on the page of a quote and nobody has answered."""
    rows = tuple(
        Row(
            name=question.quote.person.name,
            href=reverse("billing:question-answer", args=[question.pk]),
            sentence=Truncator(question.text).chars(90),
            day=local(question.asked_at),
        )
        for question in questions_waiting()
    )
    return Block("questions", "Questions on quotes", rows)


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
