"""From the page of somebody to what the other side holds about them."""

import pytest

from tests.factories.clients import PersonFactory


@pytest.mark.parametrize(("who", "may"), [("as_owner_manager", True), ("as_bookkeeper", True), ("as_assistant", False)])
def test_from_a_person_one_goes_on_to_their_account_and_a_quote(business, request, who, may):
    person = PersonFactory()
    page = request.getfixturevalue(who).get(person.get_absolute_url()).content.decode()
    for way in (f"/money/payers/{person.pk}/", f"/quotes/new/?person={person.pk}"):
        assert (f'href="{way}"' in page) is may
