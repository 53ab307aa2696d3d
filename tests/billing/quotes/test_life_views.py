"""Sending, versions and lapsing on the practitioner's side."""

import io
from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.core.management import call_command
from django.urls import reverse

from backoffice.audit.models import Entry
from backoffice.refusal import Refused
from billing.prices.models import Price
from billing.quotes.actions import new_version, offer_quote
from billing.quotes.models import Quote
from billing.quotes.spoken import promises_of
from tests.billing.quotes.screens import page_of
from tests.factories.quotes import AT, offered

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def promising(quote):
    Quote.objects.filter(pk=quote.pk).update(note="This will cure her for good.")
    quote.options.filter(name="Weekly").update(text="The best for her")
    quote.refresh_from_db()
    return quote


def test_each_text_that_promises_is_named_with_the_better_word(promising):
    assert [(spoken.where, spoken.promises[0].words) for spoken in promises_of(promising)] == [
        ("Your words to the owner", "cure"),
        ("The words of “Weekly”", "The best"),
    ]


def test_a_promise_is_shown_before_sending_and_takes_one_tick(promising, as_owner_manager):
    where = reverse("billing:quote-offer", args=[promising.pk])
    assert "“cure”" in page_of(as_owner_manager.get(promising.get_absolute_url()))
    response = as_owner_manager.post(where)
    assert response.status_code == 422
    page = page_of(response)
    assert "Better: ease." in page
    assert "Nothing has been sent yet." in page
    promising.refresh_from_db()
    assert promising.state == "draft"
    as_owner_manager.post(where, {"words_read": "yes"})
    promising.refresh_from_db()
    assert (promising.state, promising.note) == ("offered", "This will cure her for good.")
    assert Entry.objects.get(action="quote offered").changes["promises kept"] == 2


def test_without_the_tick_no_door_sends_it(promising, owner_manager):
    with pytest.raises(Refused, match="promises an outcome: “cure”"):
        offer_quote(quote=promising, at=AT, by=owner_manager)


def test_versions_stand_side_by_side(horse, owner_manager, as_owner_manager):
    old, _ = offered([horse], owner_manager)
    Price.objects.filter(service=old.full_service).update(amount=Decimal("105.00"))
    newer = new_version(quote=old, at=AT, by=owner_manager)
    where = reverse("billing:quote-versions", args=[newer.pk])
    assert where in page_of(as_owner_manager.get(newer.get_absolute_url()))
    page = page_of(as_owner_manager.get(where))
    assert "Version 1 to 2" in page
    for figure in ("$95.00", "$105.00", "+$10.00", "$500.00", "$540.00", "+$40.00"):
        assert figure in page
    assert "$45.00" not in page.split("the same in both")[0]


def test_one_version_has_nothing_beside_it(quote, as_owner_manager):
    page = page_of(as_owner_manager.get(reverse("billing:quote-versions", args=[quote.pk])))
    assert "There is one version only." in page


def test_versions_are_for_those_who_see_money(client, as_assistant, quote):
    where = reverse("billing:quote-versions", args=[quote.pk])
    assert client.get(where).status_code == 302
    assert as_assistant.get(where).status_code == 403


def test_past_its_last_day_an_offer_reads_as_lapsed(horse, owner_manager, client):
    quote, _ = offered([horse], owner_manager)
    with time_machine.travel(AT + timedelta(days=22), tick=False):
        client.force_login(owner_manager)
        page = page_of(client.get(quote.get_absolute_url()))
        assert "Not answered by Mon 23 Mar; not opened yet." in page
        assert "New version" in page
        listed = page_of(client.get(reverse("billing:quotes") + "?state=lapsed"))
        assert quote.title in listed
        assert quote.title not in page_of(client.get(reverse("billing:quotes") + "?state=offered"))


def test_the_night_marks_what_has_lapsed(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    said = io.StringIO()
    with time_machine.travel(AT + timedelta(days=22), tick=False):
        call_command("nightly", stdout=said)
    quote.refresh_from_db()
    assert quote.state == "lapsed"
    assert "1 quote lapsed." in said.getvalue()
