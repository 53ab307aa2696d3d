"""Every way on from the frame and the settings leads somewhere, for each role."""

import re

import pytest
from django.urls import reverse

from backoffice.access.powers import Role
from backoffice.office.hub import GROUPS
from backoffice.ui.navigation import PLACES, signposts
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("role", Role)
def test_every_place_of_a_role_opens_and_the_page_marks_it(business, role):
    user = UserFactory(role=role)
    client = signed_in(user)
    for post in signposts(user, "/"):
        answer = client.get(post.href)
        assert answer.status_code == 200, post.place.name
        assert re.search(rf'href="{post.href}"[^>]* aria-current="page"', answer.content.decode()), post.place.name


@pytest.mark.parametrize("role", Role)
def test_what_a_role_is_not_shown_it_is_refused(business, role):
    user = UserFactory(role=role)
    client, shown = signed_in(user), {post.place for post in signposts(user, "/")}
    for place in set(PLACES) - shown:
        assert client.get(reverse(place.url_name)).status_code == 403, place.name


def test_every_setting_opens(as_owner_manager):
    for _, settings in GROUPS:
        for setting in settings:
            assert as_owner_manager.get(reverse(setting.url_name)).status_code == 200, setting.name


def test_search_is_in_the_bar_of_every_page(as_assistant):
    page = as_assistant.get(reverse("clients:people")).content.decode()
    assert page.count(f'href="{reverse("backoffice:search")}"') == 2
