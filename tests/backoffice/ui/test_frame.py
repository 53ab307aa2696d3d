import re

import pytest
from django.template.loader import render_to_string
from django.test import Client

from backoffice.ui.navigation import signposts

pytestmark = pytest.mark.urls("tests.backoffice.ui.pages")


def bar_of(user, path="/") -> list[str]:
    return [post.place.name for post in signposts(user, path) if post.in_bar]


def test_the_phone_bar_has_the_four_places_of_the_day(owner_manager):
    assert bar_of(owner_manager) == ["Today", "Diary", "Horses", "Money"]


def test_the_bar_of_somebody_without_money_fills_its_place(assistant):
    assert bar_of(assistant) == ["Today", "Diary", "Horses", "People"]
    assert not {"Quotes", "Money", "Settings"} & {post.place.name for post in signposts(assistant, "/")}


@pytest.mark.parametrize(
    ("path", "place"),
    [
        ("/", "Today"),
        ("/visits/12/", "Diary"),
        ("/rounds/2026-03-02/1/", "Diary"),
        ("/horses/3/", "Horses"),
        ("/barns/", "People"),
        ("/quotes/4/", "Quotes"),
        ("/money/invoices/", "Money"),
        ("/settings/prices/", "Settings"),
        ("/nowhere/", None),
    ],
)
def test_the_place_we_are_in_is_marked(owner_manager, path, place):
    assert [post.place.name for post in signposts(owner_manager, path) if post.current] == ([place] if place else [])


def test_a_page_has_a_way_past_the_frame_a_language_and_a_heading(as_owner_manager):
    html = as_owner_manager.get("/people/").content.decode()
    assert '<html lang="en-US">' in html
    assert '<a class="skip" href="#content">' in html
    assert '<main id="content"' in html
    assert len(re.findall(r"<h1[ >]", html)) == 1
    assert "<title>Team · Holt-Adair Horse Sessions</title>" in html


def test_nothing_inline_and_nothing_from_elsewhere(as_owner_manager):
    answer = as_owner_manager.get("/form/")
    policy = answer["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "style-src 'self'" in policy
    assert "unsafe" not in policy
    html = answer.content.decode()
    assert not re.search(r"<script(?![^>]*\bsrc=)", html)
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=", html)
    assert not re.search(r'(?:src|href)="(?:https?:)?//', html)


def test_a_page_that_is_not_there_keeps_the_way_on(as_owner_manager, business):
    answer = as_owner_manager.get("/no/such/page/")
    assert answer.status_code == 404
    assert "Nothing is kept here" in answer.content.decode()
    assert "Go to Today" in answer.content.decode()


def test_a_stranger_at_a_wrong_address_sees_no_navigation(business):
    html = Client().get("/no/such/page/").content.decode()
    assert "Nothing is kept here" in html
    assert "<nav" not in html


def test_what_the_role_does_not_allow_says_whom_to_ask(as_assistant):
    answer = as_assistant.get("/forbid/")
    assert answer.status_code == 403
    assert "ask the owner-manager" in answer.content.decode()


def test_a_broken_page_needs_no_context(owner_manager):
    client = Client(raise_request_exception=False)
    client.force_login(owner_manager)
    answer = client.get("/breaks/")
    assert answer.status_code == 500
    assert "Something broke on our side" in answer.content.decode()
    assert render_to_string("500.html") == answer.content.decode()


def test_a_form_from_another_window_is_refused_in_plain_words(owner_manager):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner_manager)
    answer = client.post("/form/", {})
    assert answer.status_code == 403
    assert "Nothing was changed." in answer.content.decode()
    assert "csrf" not in answer.content.decode().split("<main")[1].lower()


def test_colors_for_bright_sun_are_kept_by_the_device_and_taken_back(as_owner_manager):
    def page() -> str:
        return as_owner_manager.get("/people/").content.decode()

    assert 'data-look="outdoor"' not in page()
    answer = as_owner_manager.post("/look/", HTTP_REFERER="http://testserver/people/?page=2")
    assert answer["Location"] == "/people/?page=2"
    assert (answer.cookies["look"].value, answer.cookies["look"]["samesite"]) == ("outdoor", "Lax")
    assert 'data-look="outdoor"' in page()
    assert "Usual colors" in page()
    as_owner_manager.post("/look/", HTTP_REFERER="http://elsewhere.example/")
    assert 'data-look="outdoor"' not in page()
    assert as_owner_manager.get("/look/").status_code == 405
