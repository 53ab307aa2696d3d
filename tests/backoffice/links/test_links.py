import hashlib
import re
from datetime import timedelta

import pytest
from django.contrib.auth.models import AnonymousUser
from django.http import HttpResponse
from django.test import RequestFactory

from backoffice.audit.models import Entry
from backoffice.audit.queries import trail_of
from backoffice.links.actions import TRIES, TRIES_WITHIN, full_address, issue_link, open_link, revoke_links
from backoffice.links.doors import by_link
from backoffice.links.models import PrivateLink, WrongTry
from tests.factories.backoffice import UserFactory

QUOTE = PrivateLink.Purpose.QUOTE
MONTH = timedelta(days=30)
HOME = "192.0.2.7"


@pytest.fixture
def link_and_token(business, owner_manager, now):
    return issue_link(purpose=QUOTE, target=business, at=now, valid_for=MONTH, by=owner_manager)


def opened(token, at, *, purpose=QUOTE, address=HOME):
    return open_link(token=token, purpose=purpose, at=at, address=address)


def test_the_token_opens_the_link_until_it_ends(link_and_token, now):
    link, token = link_and_token
    assert opened(token, now) == link
    assert opened(token, now + MONTH - timedelta(seconds=1)) == link
    assert opened(token, now + MONTH) is None


def test_only_the_hash_is_stored(link_and_token):
    link, token = link_and_token
    link.refresh_from_db()
    assert link.token_hash == hashlib.sha256(token.encode()).hexdigest()
    assert token not in repr([link.__dict__, list(Entry.objects.values())])


def test_tokens_are_long_and_never_the_same(business, now):
    tokens = {issue_link(purpose=QUOTE, target=business, at=now, valid_for=MONTH, by=None)[1] for _ in range(20)}
    assert len(tokens) == 20
    assert all(len(token) == 43 for token in tokens), "256 bits in base64url"


@pytest.mark.parametrize("guess", ["", "x", "a" * 43, "' OR 1=1 --", "ليلى", "0" * 5000])
def test_a_guess_opens_nothing(link_and_token, now, guess):
    assert opened(guess, now) is None


def test_a_token_fits_its_purpose_only(link_and_token, now):
    assert opened(link_and_token[1], now, purpose=PrivateLink.Purpose.REFERRAL) is None


def test_a_withdrawn_link_is_closed_for_good(link_and_token, business, owner_manager, now):
    link, token = link_and_token
    assert revoke_links(purpose=QUOTE, target=business, at=now, by=owner_manager) == 1
    assert opened(token, now) is None
    assert revoke_links(purpose=QUOTE, target=business, at=now, by=owner_manager) == 0
    assert [entry.action for entry in trail_of(link)] == ["private link withdrawn", "private link made"]


def test_withdrawing_leaves_other_things_open(link_and_token, now):
    thing = UserFactory(pk=4711)
    _, other = issue_link(purpose=QUOTE, target=thing, at=now, valid_for=MONTH, by=None)
    revoke_links(purpose=QUOTE, target=thing, at=now, by=None)
    assert opened(link_and_token[1], now) is not None
    assert opened(other, now) is None


def test_opening_notes_when_and_nothing_else(link_and_token, now):
    token = link_and_token[1]
    before = PrivateLink.objects.values().get()
    entries = Entry.objects.count()
    opened(token, now + timedelta(hours=1))
    opened(token, now + timedelta(hours=2))
    after = PrivateLink.objects.values().get()
    changed = {name for name in before if before[name] != after[name]}
    assert changed == {"first_opened_at", "last_opened_at", "times_opened"}
    assert after["first_opened_at"] == now + timedelta(hours=1)
    assert after["last_opened_at"] == now + timedelta(hours=2)
    assert Entry.objects.count() == entries


def test_pages_of_one_sitting_count_once(link_and_token, now):
    token = link_and_token[1]
    for minutes in (0, 5, 30, 61, 200):
        opened(token, now + timedelta(minutes=minutes))
    assert PrivateLink.objects.get().times_opened == 3


def test_a_look_of_the_business_itself_is_not_counted(link_and_token, now):
    assert open_link(token=link_and_token[1], purpose=QUOTE, at=now, address=HOME, is_ours=True)
    link = PrivateLink.objects.get()
    assert (link.times_opened, link.first_opened_at, link.last_opened_at) == (0, None, None)


def test_too_many_wrong_tries_close_even_the_right_token_for_a_while(link_and_token, now):
    token = link_and_token[1]
    for _ in range(TRIES):
        opened("wrong", now)
    assert opened(token, now) is None
    assert opened(token, now, address="192.0.2.8") is not None
    assert opened(token, now + TRIES_WITHIN) is not None


def test_the_address_of_a_wrong_try_is_not_kept_and_old_tries_are_forgotten(link_and_token, now):
    opened("wrong", now)
    assert HOME not in repr(list(WrongTry.objects.values()))
    opened("wrong", now + TRIES_WITHIN)
    assert WrongTry.objects.count() == 1


def without_csrf(answer: HttpResponse) -> str:
    return re.sub(r"[A-Za-z0-9]{64}", "", answer.content.decode())


def asked():
    request = RequestFactory().get("/")
    request.user = AnonymousUser()
    return request


@by_link(QUOTE)
def page(request, link, token):
    return HttpResponse(f"quote {link.target_pk}")


def test_the_door_shows_the_page_to_the_holder(link_and_token, business, time_machine, now):
    time_machine.move_to(now)
    answer = page(asked(), token=link_and_token[1])
    assert answer.content.decode() == f"quote {business.pk}"
    assert answer["X-Robots-Tag"] == "noindex, nofollow"
    assert "no-store" in answer["Cache-Control"]


def test_the_door_tells_everybody_else_the_same(link_and_token, client, time_machine, now):
    time_machine.move_to(now + MONTH)
    request = asked()
    ended, guessed = page(request, token=link_and_token[1]), page(request, token="guess")
    assert ended.status_code == guessed.status_code == 404
    assert without_csrf(ended) == without_csrf(guessed)
    assert guessed["X-Robots-Tag"] == "noindex, nofollow"


def test_an_address_that_can_be_mailed_is_whole(settings):
    settings.PUBLIC_ADDRESS = "https://desk.example/"
    assert full_address("/p/quote/abc/") == "https://desk.example/p/quote/abc/"
