"""The page of letters: what went, what waits and why; sent again, by hand, or not at all, by those who may."""

import re
from urllib.parse import parse_qs, urlsplit

import pytest
from django.core import mail

from backoffice.letters.actions import Draft, send_letter
from backoffice.letters.models import Letter
from tests.factories.clients import PersonFactory

pytestmark = pytest.mark.django_db
LINK = f"https://desk.example/p/money/{'x' * 43}/"


@pytest.fixture
def person(business):
    return PersonFactory(name="Ottilie Brackwater", email="ottilie@brackwater.example")


@pytest.fixture
def write(person, now, settings):
    def written(goes=True, **said):
        settings.MAIL_GOES = goes
        question = type("Asked", (), {"person": person, "text": "Why?", "answer": f"See {LINK}"})()
        usual = {"to": person.email, "subject": "Your question", "about": person, "person": person}
        draft = Draft(Letter.Kind.MONEY_ANSWER, **{**usual, "context": {"question": question}, **said})
        return send_letter(draft, at=now)

    return written


def page_of(client, address):
    return client.get(address).content.decode()


def test_the_list_says_what_went_and_what_waits(as_owner_manager, write):
    write(subject="One that went")
    write(goes=False, subject="One that waits")
    page = page_of(as_owner_manager, "/letters/")
    assert "No mail server is set" in page
    assert page.index("One that waits") > 0
    assert page.index("One that went") > 0
    assert "One that went" not in page_of(as_owner_manager, "/letters/?state=waiting")


def test_the_list_asks_as_often_for_one_as_for_thirty(as_owner_manager, write, django_assert_num_queries):
    write()
    with django_assert_num_queries(6):
        page_of(as_owner_manager, "/letters/")
    for _ in range(29):
        write()
    with django_assert_num_queries(6):
        page_of(as_owner_manager, "/letters/")


def test_a_waiting_letter_opens_in_the_mail_program_with_its_link(as_owner_manager, write):
    letter = write(goes=False)
    page = page_of(as_owner_manager, letter.get_absolute_url())
    [address] = re.findall(r'href="(mailto:[^"]+)"', page)
    opened = urlsplit(address.replace("&amp;", "&"))
    assert opened.path == "ottilie%40brackwater.example"
    said = parse_qs(opened.query)
    assert said["subject"] == ["Your question"]
    assert LINK in said["body"][0]


def test_one_whose_private_link_has_ended_is_offered_to_be_dropped_only(as_owner_manager, write, monkeypatch):
    letter = write(goes=False)
    monkeypatch.setattr("backoffice.letters.actions.opens_nothing", lambda text, at: True)
    page = page_of(as_owner_manager, letter.get_absolute_url())
    assert "Its private link opens nothing any more." in page
    assert "Do not send it</button>" in page
    assert "mailto:" not in page
    assert "I sent it myself" not in page


def test_once_gone_nobody_reads_its_link(as_owner_manager, write):
    page = page_of(as_owner_manager, write().get_absolute_url())
    assert LINK not in page
    assert "/p/money/…/" in page
    assert "Send it again" in page


def test_it_goes_by_hand_again_or_not_at_all(as_owner_manager, write, settings):
    first, second, third = write(goes=False), write(goes=False), write(goes=False)
    settings.MAIL_GOES = True
    for letter, what in ((first, "by-hand"), (second, "drop"), (third, "send")):
        assert as_owner_manager.post(f"{letter.get_absolute_url()}{what}/").status_code == 302
    states = [Letter.objects.get(pk=letter.pk).state for letter in (first, second, third)]
    assert states == ["by_hand", "dropped", "sent"]
    assert len(mail.outbox) == 1


def test_all_that_wait_are_tried(as_owner_manager, write, settings):
    write(goes=False), write(goes=False)
    settings.MAIL_GOES = True
    assert "Try all that wait" in page_of(as_owner_manager, "/letters/")
    as_owner_manager.post("/letters/try/")
    assert set(Letter.objects.values_list("state", flat=True)) == {"sent"}


def test_who_sees_no_money_reads_no_letter_about_it(as_assistant, write):
    letter = write(goes=False)
    assert "Your question" not in page_of(as_assistant, "/letters/")
    assert as_assistant.get(letter.get_absolute_url()).status_code == 403
    assert as_assistant.post(f"{letter.get_absolute_url()}drop/").status_code == 403


def test_what_waits_is_told_on_today(as_owner_manager, write):
    write(subject="Gone")
    assert "Letters that wait" not in page_of(as_owner_manager, "/")
    write(goes=False, subject="Still here")
    page = page_of(as_owner_manager, "/")
    assert "Letters that wait" in page
    assert "Still here" in page
