"""The letters about quotes."""

from datetime import datetime

from django.urls import reverse

from backoffice.business.queries import the_business
from backoffice.letters.actions import send_letter
from backoffice.letters.models import Letter
from backoffice.links.actions import full_address
from billing.quotes.models import Question, Quote


def send_offer(quote: Quote, token: str, *, at: datetime) -> None:
    """Mail the private link to the person the quote is for."""
    horses = [horse.animal.name for horse in quote.horses.select_related("animal")]
    address = full_address(reverse("billing:owner-quote", args=[token]))
    send_letter(
        Letter.Kind.QUOTE_OFFERED,
        to=quote.person.email,
        subject=f"{quote.title}: a quote from {the_business().name}",
        about=quote,
        person=quote.person,
        context={"quote": quote, "horses": horses, "address": address},
        at=at,
    )


def send_question(question: Question, *, at: datetime) -> None:
    """Tell the business what an owner asks."""
    quote = question.quote
    send_letter(
        Letter.Kind.QUOTE_QUESTION,
        to=the_business().email,
        subject=f"{quote.person} asks about “{quote.title}”",
        about=quote,
        person=quote.person,
        context={"question": question, "address": full_address(f"{quote.get_absolute_url()}#questions")},
        at=at,
        reply_to=quote.person.email,
    )


def send_answer(question: Question, *, at: datetime) -> None:
    """Mail the owner the answer; the link to the page is the one they have."""
    quote = question.quote
    send_letter(
        Letter.Kind.QUOTE_ANSWER,
        to=quote.person.email,
        subject=f"Your question about “{quote.title}”",
        about=quote,
        person=quote.person,
        context={"question": question},
        at=at,
    )
