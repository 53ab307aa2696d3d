"""What an owner asks on the page of the quote, and how it is answered."""

from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.urls import reverse

from backoffice.audit.models import Entry
from backoffice.refusal import Refused
from billing.quotes.actions import new_version, offer_quote
from billing.quotes.models import Question
from billing.quotes.questions import MOST_A_DAY, MOST_WAITING, answer_question, ask_question, questions_of
from tests.billing.quotes.screens import SCRIPT, page_of
from tests.factories.quotes import AT, offered

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def quote(horse, person, owner_manager, business):
    person.email, business.email = "desmond@example.org", "desk@example.org"
    person.save()
    business.save()
    made, token = offered([horse], owner_manager)
    made.token = token
    mail.outbox.clear()
    return made


def asked(quote, text="May we start a week later?"):
    return ask_question(quote=quote, text=text, at=AT)


def test_an_owner_asks_and_reads_the_answer_on_the_page(
    client, as_owner_manager, quote, django_capture_on_commit_callbacks
):
    page = reverse("billing:owner-quote", args=[quote.token])
    with django_capture_on_commit_callbacks(execute=True):
        response = client.post(reverse("billing:owner-quote-ask", args=[quote.token]), {"text": f"May I? {SCRIPT}"})
    assert response.url == f"{page}#questions"
    assert "We have it and will answer." in page_of(client.get(page))
    letter = mail.outbox[0]
    assert (letter.to, letter.reply_to) == (["desk@example.org"], ["desmond@example.org"])
    assert f"May I? {SCRIPT}" in letter.body
    assert SCRIPT not in letter.alternatives[0].content
    answer = reverse("billing:question-answer", args=[Question.objects.get().pk])
    assert answer in page_of(as_owner_manager.get(quote.get_absolute_url()))
    with django_capture_on_commit_callbacks(execute=True):
        as_owner_manager.post(answer, {"answer": "Yes, any Monday."})
    assert "Yes, any Monday." in page_of(client.get(page))
    assert "Yes, any Monday." in page_of(as_owner_manager.get(quote.get_absolute_url()))
    letter = mail.outbox[1]
    assert (letter.to, letter.reply_to) == (["desmond@example.org"], ["desk@example.org"])
    assert "Yes, any Monday." in letter.body
    assert "Yes, any Monday." in letter.alternatives[0].content


def test_no_personal_word_is_in_the_trail(quote, owner_manager):
    answer_question(question=asked(quote), answer="Yes, gladly.", at=AT, by=owner_manager)
    entries = list(Entry.objects.filter(action__startswith="question").values("action", "changes", "via"))
    assert [entry["action"] for entry in entries] == ["question answered", "question asked"] or len(entries) == 2
    assert "week later" not in str(entries)
    assert "gladly" not in str(entries)


def test_the_same_words_sent_twice_are_one_question(quote):
    assert asked(quote) == asked(quote)
    assert Question.objects.count() == 1


def test_only_so_many_wait_at_once(quote, client):
    for number in range(MOST_WAITING):
        asked(quote, f"Question {number}")
    with pytest.raises(Refused, match="wait for an answer already"):
        asked(quote, "One more")
    response = client.post(reverse("billing:owner-quote-ask", args=[quote.token]), {"text": "One more"})
    assert response.status_code == 422
    assert "wait for an answer already" in page_of(response)
    assert "One more</textarea>" in page_of(response)


def test_only_so_many_are_taken_in_a_day(quote, owner_manager):
    for number in range(MOST_A_DAY):
        answer_question(question=asked(quote, f"Question {number}"), answer="Yes.", at=AT, by=owner_manager)
    with pytest.raises(Refused, match="one day"):
        asked(quote, "One more")
    assert ask_question(quote=quote, text="One more", at=AT + timedelta(days=1))


@pytest.mark.parametrize("text", ["", "   ", "x" * 1001, "x" * 2_000_000])
def test_nothing_and_too_much_are_said_at_the_field(client, quote, text):
    response = client.post(reverse("billing:owner-quote-ask", args=[quote.token]), {"text": text})
    assert response.status_code == 422
    assert not Question.objects.exists()


def test_a_question_is_answered_once(quote, owner_manager):
    question = asked(quote)
    answer_question(question=question, answer="Yes.", at=AT, by=owner_manager)
    with pytest.raises(Refused, match="answered already"):
        answer_question(question=question, answer="No.", at=AT, by=owner_manager)
    with pytest.raises(Refused, match="empty"):
        answer_question(question=asked(quote, "Another"), answer=" ", at=AT, by=owner_manager)


def test_a_new_version_keeps_the_thread(quote, owner_manager):
    asked(quote)
    newer = new_version(quote=quote, at=AT, by=owner_manager)
    offer_quote(quote=newer, at=AT, by=owner_manager)
    newer.refresh_from_db()
    assert [question.text for question in questions_of(newer)] == ["May we start a week later?"]


def test_a_promise_in_the_answer_takes_a_tick(as_owner_manager, quote):
    where = reverse("billing:question-answer", args=[asked(quote).pk])
    response = as_owner_manager.post(where, {"answer": "It will cure her."})
    assert response.status_code == 422
    assert "“cure” promises an outcome. Better: ease." in page_of(response)
    assert "It will cure her.</textarea>" in page_of(response)
    assert 'name="words_read"' in page_of(response)
    as_owner_manager.post(where, {"answer": "It will cure her.", "words_read": "on"})
    assert Question.objects.get().answer == "It will cure her."


def test_who_may_answer(client, as_assistant, as_bookkeeper, quote):
    where = reverse("billing:question-answer", args=[asked(quote).pk])
    assert client.get(where).status_code == 302
    assert as_assistant.get(where).status_code == 403
    assert as_bookkeeper.get(where).status_code in (200, 403)
