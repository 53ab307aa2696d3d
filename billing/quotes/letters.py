"""The letters about quotes."""

from copy import copy
from datetime import date, datetime, timedelta

from django.urls import reverse

from backoffice.business.queries import the_business
from backoffice.letters.actions import Draft, send_letter
from backoffice.letters.models import Letter
from backoffice.links.actions import NO_TOKEN, full_address
from billing.quotes.models import Question, Quote


def offer_letter(quote: Quote, token: str) -> Draft:
    """The private link for the person the quote is for."""
    return Draft(
        kind=Letter.Kind.QUOTE_OFFERED,
        to=quote.person.email,
        subject=f"{quote.title}: a quote from {the_business().name}",
        about=quote,
        person=quote.person,
        context={
            "quote": quote,
            "horses": [horse.animal.name for horse in quote.horses.select_related("animal")],
            "address": full_address(reverse("billing:owner-quote", args=[token])),
        },
    )


def letter_before(quote: Quote, on: date) -> Draft:
    """How it would read if it were offered on that day; the link is made then."""
    as_offered = copy(quote)
    as_offered.expires_on = on + timedelta(days=the_business().quote_days)
    return offer_letter(as_offered, NO_TOKEN)


def send_question(question: Question, *, at: datetime) -> None:
    """Tell the business what an owner asks."""
    quote = question.quote
    send_letter(
        Draft(
            kind=Letter.Kind.QUOTE_QUESTION,
            to=the_business().email,
            subject=f"{quote.person} asks about “{quote.title}”",
            about=quote,
            person=quote.person,
            context={"question": question, "address": full_address(f"{quote.get_absolute_url()}#questions")},
            reply_to=quote.person.email,
        ),
        at=at,
    )


def send_answer(question: Question, *, at: datetime) -> None:
    """Mail the owner the answer; the link to the page is the one they have."""
    quote = question.quote
    send_letter(
        Draft(
            kind=Letter.Kind.QUOTE_ANSWER,
            to=quote.person.email,
            subject=f"Your question about “{quote.title}”",
            about=quote,
            person=quote.person,
            context={"question": question},
        ),
        at=at,
    )
