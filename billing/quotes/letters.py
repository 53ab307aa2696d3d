"""The letters about quotes."""

from django.urls import reverse

from backoffice.business.letters import send_letter
from backoffice.business.queries import the_business
from backoffice.links.actions import full_address
from billing.quotes.models import Question, Quote


def send_offer(quote_pk: int, token: str) -> None:
    """Mail the private link to the person the quote is for."""
    quote = Quote.objects.select_related("person").get(pk=quote_pk)
    horses = [horse.animal.name for horse in quote.horses.select_related("animal")]
    address = full_address(reverse("billing:owner-quote", args=[token]))
    subject = f"{quote.title}: a quote from {the_business().name}"
    send_letter("quote_offered", subject, quote.person.email, {"quote": quote, "horses": horses, "address": address})


def send_question(question_pk: int) -> None:
    """Tell the business what an owner asks."""
    question = _question(question_pk)
    address = full_address(f"{question.quote.get_absolute_url()}#questions")
    subject = f"{question.quote.person} asks about “{question.quote.title}”"
    context = {"question": question, "address": address}
    send_letter("quote_question", subject, the_business().email, context, reply_to=question.quote.person.email)


def send_answer(question_pk: int) -> None:
    """Mail the owner the answer; the link to the page is the one they have."""
    question = _question(question_pk)
    subject = f"Your question about “{question.quote.title}”"
    send_letter("quote_answer", subject, question.quote.person.email, {"question": question})


def _question(pk: int) -> Question:
    return Question.objects.select_related("quote__person").get(pk=pk)
