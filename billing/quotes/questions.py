"""What owners ask on the page of a quote, and what they are answered."""

from datetime import datetime, timedelta

from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from billing.quotes.letters import send_answer, send_question
from billing.quotes.models import Question, Quote

MOST_WAITING = 5
MOST_A_DAY = 10
DAY = timedelta(days=1)


def questions_of(quote: Quote) -> QuerySet[Question]:
    """The thread of a quote, over all its versions, oldest first."""
    if quote.number is None:
        return Question.objects.none()
    return Question.objects.filter(quote__number=quote.number).select_related("answered_by")


def questions_waiting() -> QuerySet[Question]:
    """Asked and not answered, oldest first."""
    return Question.objects.filter(answered_at=None).select_related("quote__person")


def get_question_or_404(request: HttpRequest, pk: int) -> Question:
    demand(request, Power.SEE_MONEY)
    return get_object_or_404(Question.objects.select_related("quote__person"), pk=pk)


@audit.action
def ask_question(*, quote: Quote, text: str, at: datetime) -> Question:
    """Keep what the owner asks and mail it to the business; the same words sent twice are one question."""
    asked = questions_of(quote)
    waiting = asked.filter(answered_at=None)
    same = waiting.filter(text=text).first()
    if same is not None:
        return same
    if waiting.count() >= MOST_WAITING:
        raise Refused(f"{MOST_WAITING} questions wait for an answer already. We will write; or please call us.")
    if asked.filter(asked_at__gt=at - DAY).count() >= MOST_A_DAY:
        raise Refused("That is all this page takes in one day. Please call us.")
    question = Question.objects.create(quote=quote, text=text, asked_at=at)
    audit.record("question asked", question, at=at, by=None, via="private link", changes={"quote": quote})
    send_question(question, at=at)
    return question


@audit.action
def answer_question(*, question: Question, answer: str, at: datetime, by: User) -> Question:
    """Keep the answer, which the owner then reads under the question, and mail it."""
    question = Question.objects.select_for_update().get(pk=question.pk)
    if question.answered_at is not None:
        raise Refused("This question has been answered already.")
    if not answer.strip():
        raise Refused("The answer is empty.")
    question.answer, question.answered_at, question.answered_by = answer, at, by
    question.save(update_fields=["answer", "answered_at", "answered_by"])
    audit.record("question answered", question, at=at, by=by, changes={"quote": question.quote_id})
    send_answer(question, at=at)
    return question
