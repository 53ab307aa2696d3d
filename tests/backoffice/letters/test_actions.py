"""Letters are written down, go out once, wait visibly where they cannot, and never show a private link once gone."""

from datetime import timedelta
from smtplib import SMTPAuthenticationError, SMTPRecipientsRefused

import pytest
from django.core import mail
from django.db import connection

from backoffice.letters import actions
from backoffice.letters.actions import (
    Draft,
    deliver,
    deliver_waiting,
    end_waiting,
    forget_letters,
    send_again,
    send_letter,
)
from backoffice.letters.models import Letter
from backoffice.links.actions import digest, issue_link
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from tests.factories.clients import PersonFactory

pytestmark = pytest.mark.django_db
TOKEN = "R4nd0m-_" * 5 + "abc"  # 43 characters, as a private link has
LINK = f"https://desk.example/p/quote/{TOKEN}/"


@pytest.fixture
def person(business):
    return PersonFactory(name="Ottilie Brackwater", email="ottilie@brackwater.example")


@pytest.fixture
def write(person, now):
    def written(**said):
        question = type("Asked", (), {"person": person, "text": f"See {LINK}", "answer": f"Here: {LINK}"})()
        usual = {"to": person.email, "subject": "Your\nquestion", "about": person, "person": person}
        draft = Draft(Letter.Kind.MONEY_ANSWER, **{**usual, "context": {"question": question}, **said})
        return send_letter(draft, at=now)

    return written


@pytest.fixture
def waiting(write, settings):
    settings.MAIL_GOES = False
    letter = write()
    settings.MAIL_GOES = True
    return letter


class Unreachable:
    def __init__(self, trouble):
        self.trouble = trouble

    def send(self):
        raise self.trouble


def test_it_is_written_down_and_goes(write):
    letter = write()
    letter.refresh_from_db()
    assert (letter.state, letter.trouble, letter.subject) == ("sent", "", "Your question")
    [sent] = mail.outbox
    assert sent.to == ["ottilie@brackwater.example"]
    assert LINK in sent.body
    assert LINK in sent.alternatives[0].content


@pytest.mark.parametrize("ended", ["withdrawn", "over"])
def test_one_whose_private_link_opens_nothing_any_more_does_not_go(waiting, person, now, owner_manager, ended):
    link, _ = issue_link(
        purpose=PrivateLink.Purpose.QUOTE, target=person, at=now, valid_for=timedelta(days=400), by=owner_manager
    )
    PrivateLink.objects.filter(pk=link.pk).update(token_hash=digest(TOKEN))
    over = {"revoked_at": now} if ended == "withdrawn" else {"expires_at": now}
    PrivateLink.objects.filter(pk=link.pk).update(**over)
    assert not deliver(waiting.pk)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.trouble) == (
        "waiting",
        "Its private link opens nothing any more. Do not send it; write anew from the page it is about.",
    )
    assert mail.outbox == []


def test_nothing_is_written_without_an_address(write):
    assert write(to="") is None
    assert not Letter.objects.exists()


def test_what_is_kept_to_read_has_no_private_link_and_what_goes_is_sealed(waiting):
    assert "https://desk.example/p/quote/…/" in waiting.text
    with connection.cursor() as cursor:
        cursor.execute("SELECT * FROM backoffice_letter")
        [row] = cursor.fetchall()
    assert TOKEN not in "".join(
        bytes(cell).decode("latin-1") if isinstance(cell, memoryview | bytes) else str(cell) for cell in row
    )


def test_without_a_mail_server_it_waits(waiting, settings, now, owner_manager):
    settings.MAIL_GOES = False
    assert deliver_waiting() == 0
    with pytest.raises(Refused, match="No mail server is set"):
        send_again(letter=waiting, at=now, by=owner_manager)
    assert Letter.objects.get().is_waiting
    assert mail.outbox == []


@pytest.mark.parametrize(
    ("trouble", "sentence"),
    [
        (ConnectionRefusedError(), "could not be reached"),
        (TimeoutError(), "could not be reached"),
        (UnicodeEncodeError("ascii", "ü", 0, 1, "x"), "did not take it"),
        (SMTPRecipientsRefused({}), "does not take this address"),
        (SMTPAuthenticationError(535, b"no"), "does not know our name and password"),
    ],
)
def test_a_mail_server_that_fails_breaks_nothing_and_the_letter_says_why(write, monkeypatch, trouble, sentence):
    with monkeypatch.context() as broken:
        broken.setattr(actions, "_message", lambda letter: Unreachable(trouble))
        letter = write()
    letter.refresh_from_db()
    assert letter.is_waiting
    assert sentence in letter.trouble
    assert deliver_waiting() == 1
    letter.refresh_from_db()
    assert (letter.state, letter.trouble) == ("sent", "")


def test_two_who_send_at_once_send_one_letter(waiting, now):
    Letter.objects.update(taken_at=actions.timezone.now())
    assert not deliver(waiting.pk)
    assert mail.outbox == []


def test_one_that_was_cut_off_while_going_is_tried_again(waiting):
    Letter.objects.update(taken_at=actions.timezone.now() - timedelta(minutes=11))
    assert deliver(waiting.pk)
    assert not deliver(waiting.pk)
    assert len(mail.outbox) == 1


def test_one_that_went_can_go_once_more_as_it_was(write, now, owner_manager):
    send_again(letter=write(), at=now, by=owner_manager)
    first, second = mail.outbox
    assert first.body == second.body


@pytest.mark.parametrize("state", [Letter.State.BY_HAND, Letter.State.DROPPED])
def test_one_sent_by_hand_or_dropped_forgets_its_link_and_goes_no_more(waiting, now, owner_manager, state):
    ended = end_waiting(letter=waiting, state=state, at=now, by=owner_manager)
    assert (ended.state, ended.sealed) == (state, None)
    with pytest.raises(Refused, match="cannot go again"):
        send_again(letter=ended, at=now, by=owner_manager)
    with pytest.raises(Refused, match="waits no more"):
        end_waiting(letter=ended, state=state, at=now, by=owner_manager)


def test_a_month_later_it_goes_no_more_and_a_year_later_it_is_forgotten(write, waiting, now, owner_manager):
    sent = write()
    Letter.objects.filter(pk=sent.pk).update(state_at=now)
    forget_letters(now + timedelta(days=31))
    sent.refresh_from_db()
    assert sent.text
    with pytest.raises(Refused, match="cannot go again"):
        send_again(letter=sent, at=now, by=owner_manager)
    forget_letters(now + timedelta(days=366))
    assert list(Letter.objects.all()) == [waiting]


def test_sealed_with_a_key_that_is_gone_it_waits_and_says_so(waiting, settings):
    settings.SECRET_KEY = "another key of sufficient length, for every use that is made of it"
    assert not deliver(waiting.pk)
    assert "SECRET_KEY" in Letter.objects.get().trouble
