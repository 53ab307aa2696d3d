"""Somebody new, or who forgot, chooses a password of their own: by a private link, once, within three days."""

import re
from datetime import timedelta

import pyotp
import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit.models import Entry
from backoffice.refusal import Refused
from backoffice.team import two_steps
from backoffice.team.actions import invite

pytestmark = pytest.mark.django_db
TYPED = {"first_name": "Ada", "username": "ada", "role": "assistant", "email": "ada@holt-adair.example"}
CHOSEN = "a quiet mare in the rain"
BOTH = {"password": CHOSEN, "password_again": CHOSEN}


@pytest.fixture
def link(assistant, owner_manager) -> str:
    address = invite(account=assistant, at=timezone.now(), by=owner_manager)
    return "/" + address.split("/", 3)[3]


def test_an_account_without_a_password_is_invited_by_mail_and_its_link_shown_once(as_owner_manager):
    page = as_owner_manager.post(reverse("backoffice:account-new"), TYPED).content.decode()
    [letter] = mail.outbox
    assert letter.to == ["ada@holt-adair.example"]
    [address] = re.findall(r"http\S+/p/account/\S+/", letter.body)
    assert address in page
    account = User.objects.get(username="ada")
    assert not account.has_usable_password()
    assert account.email == "ada@holt-adair.example"
    path = "/" + address.split("/", 3)[3]
    stranger = Client()
    assert "You sign in as “ada”" in stranger.get(path).content.decode()
    assert stranger.post(path, BOTH).status_code == 302
    assert stranger.get("/").status_code == 302
    assert stranger.login(username="ada", password=CHOSEN)


def test_one_password_of_two_is_asked_for_again(as_owner_manager):
    page = as_owner_manager.post(reverse("backoffice:account-new"), {**TYPED, "password_again": CHOSEN})
    assert page.status_code == 422
    assert "The two passwords differ" in page.content.decode()


def test_it_works_once(link, assistant, client):
    client.post(link, BOTH)
    assert client.get(link).status_code == 404
    assert client.post(link, {name: "another sentence of mine" for name in BOTH}).status_code == 404
    assistant.refresh_from_db()
    assert assistant.check_password(CHOSEN)
    assert Entry.objects.filter(action="password set", by=assistant).count() == 1


def test_it_ends_after_three_days(link, client):
    with time_machine.travel(timezone.now() + timedelta(days=3, minutes=1), tick=False):
        assert client.get(link).status_code == 404


def test_a_newer_one_closes_the_older(link, assistant, owner_manager, client):
    invite(account=assistant, at=timezone.now(), by=owner_manager)
    assert client.get(link).status_code == 404


def test_a_weak_one_is_refused_at_its_field_and_the_link_stays(link, client):
    answer = client.post(link, {"password": "short", "password_again": "short"})
    assert answer.status_code == 422
    assert "at least 15 characters" in answer.content.decode()
    assert client.get(link).status_code == 200


def test_whoever_was_signed_in_with_the_old_one_is_signed_out(link, as_assistant, client):
    assert as_assistant.get("/").status_code == 200
    client.post(link, BOTH)
    assert as_assistant.get("/").status_code == 302


def test_a_closed_account_is_not_invited_and_its_link_opens_nothing(link, assistant, owner_manager, client):
    assistant.is_active = False
    assistant.save()
    assert client.get(link).status_code == 404
    with pytest.raises(Refused, match="closed"):
        invite(account=assistant, at=timezone.now(), by=owner_manager)


def test_who_forgot_gets_a_link_from_the_account_s_page(as_owner_manager, assistant):
    page = as_owner_manager.get(reverse("backoffice:account-edit", args=[assistant.pk])).content.decode()
    assert "Have them choose a password" in page
    shown = as_owner_manager.post(reverse("backoffice:account-invite", args=[assistant.pk])).content.decode()
    assert "/p/account/" in shown
    assert mail.outbox == []


def test_a_new_password_leads_to_the_second_step_as_before(link, assistant, client):
    now = timezone.now()
    app = pyotp.TOTP(two_steps.begin_code_app(account=assistant, at=now))
    two_steps.confirm_code_app(account=assistant, code=app.at(now), at=now)
    client.post(link, BOTH)
    answer = client.post(reverse("backoffice:sign-in"), {"username": assistant.username, "password": CHOSEN})
    assert answer["Location"] == reverse("backoffice:sign-in-second")
    assert "_auth_user_id" not in client.session
