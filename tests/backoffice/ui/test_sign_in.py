import pytest
from django.test import Client
from django.urls import reverse

PASSWORD = "a long pass phrase"
SIGN_IN = "/sign-in/"


@pytest.fixture
def person(owner_manager):
    owner_manager.set_password(PASSWORD)
    owner_manager.save()
    return owner_manager


def sign_in(client, password=PASSWORD, **more):
    return client.post(SIGN_IN, {"username": "owner", "password": password, **more})


def test_the_sign_in_page_opens_without_an_account(client, person):
    answer = client.get(reverse("backoffice:sign-in"))
    assert answer.status_code == 200
    assert "<nav" not in answer.content.decode()
    assert 'content="noindex, nofollow"' in answer.content.decode()


def test_every_other_page_asks_to_sign_in_first(client, person):
    assert client.get("/people/").url == "/sign-in/?next=/people/"


def test_the_right_pair_leads_on_to_the_page_asked_for(client, person):
    answer = sign_in(client, next="/horses/")
    assert (answer.status_code, answer.url) == (302, "/horses/")


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"])
def test_signing_in_never_leads_to_another_site(client, person, elsewhere):
    assert sign_in(client, next=elsewhere).url == "/"


def test_a_wrong_pair_is_told_without_saying_which_half(client, person):
    answer = sign_in(client, password="wrong")
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "do not belong together" in html
    assert 'value="owner"' in html
    assert "wrong" not in html


def test_a_closed_account_does_not_sign_in(client, person):
    person.is_active = False
    person.save()
    assert sign_in(client).status_code == 422


def test_too_many_tries_close_the_door_for_a_while(person, settings):
    settings.AXES_ENABLED = True
    client = Client(REMOTE_ADDR="203.0.113.9")
    answers = [sign_in(client, password=f"guess {n}") for n in range(5)]
    assert answers[-1].status_code == 429
    assert "Too many tries" in answers[-1].content.decode()
    assert "Too many tries" in sign_in(client).content.decode()


def test_signing_out_needs_a_button_not_a_link(as_owner_manager):
    assert as_owner_manager.get("/sign-out/").status_code == 405
    assert as_owner_manager.post("/sign-out/").url == SIGN_IN
    assert as_owner_manager.get("/sign-out/").status_code in {302, 405}


def test_a_browser_that_shows_a_pdf_finds_the_icon_without_signing_in(client, business):
    assert client.get("/favicon.ico").headers["Location"] == "/static/img/favicon.svg"
