import csv
import io
from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from billing.prices.models import Price
from billing.prices.rules import CostRates
from billing.quotes.models import Quote
from tests.billing.quotes.screens import HONEST, page_of
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, PersonFactory
from tests.factories.quotes import AT, START, add_every, drafted, offered, owned, worked_prices

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


def row(quote=None, **fields) -> Quote:
    """A quote without options, for lists."""
    prices, full, _ = worked_prices()
    return Quote.objects.create(
        **{
            "title": "Steady upkeep",
            "person": PersonFactory(),
            "goal": "upkeep",
            "full_service": full,
            "price_list": prices,
            "currency": "USD",
            "start": START,
            "made_at": AT,
            "made_by": UserFactory(),
            **fields,
        }
    )


# The list


def test_an_empty_list_says_what_to_do_next(as_owner_manager):
    page = page_of(as_owner_manager.get(reverse("billing:quotes")))
    assert "No quote yet" in page
    assert reverse("billing:quote-new") in page


def test_the_list_finds_by_title_owner_and_horse(as_owner_manager, quote):
    row(title="Another one")
    for words in ("steady", "Quarrie", "tinker"):
        page = page_of(as_owner_manager.get(reverse("billing:quotes"), {"q": words}))
        assert "Steady upkeep" in page
        assert "Another one" not in page


def test_the_list_filters_by_state_and_sorts(as_owner_manager, business):
    row(title="Later", start=date(2026, 5, 1))
    row(title="Sooner", start=date(2026, 4, 1))
    row(title="Gone", state="lapsed", number=1, frozen={})
    page = page_of(as_owner_manager.get(reverse("billing:quotes"), {"state": "draft", "sort": "start"}))
    assert "Gone" not in page
    assert page.index("Sooner") < page.index("Later")


def test_the_list_has_pages_and_an_export_of_all_of_them(as_owner_manager, business):
    for number in range(30):
        row(title=f"=Quote {number}")
    first = page_of(as_owner_manager.get(reverse("billing:quotes")))
    assert "page=2" in first
    export = as_owner_manager.get(reverse("billing:quotes"), {"_export": "csv"}).content.decode()
    rows = list(csv.reader(io.StringIO(export)))
    assert len(rows) == 31
    assert rows[1][0].startswith("'=Quote")


@pytest.mark.parametrize("rows", [1, 30])
def test_the_list_takes_the_same_queries_at_1_and_at_30_rows(as_owner_manager, horse, rows, django_assert_num_queries):
    for _ in range(rows):
        row().horses.create(animal=horse, position=1)
    with django_assert_num_queries(7):
        as_owner_manager.get(reverse("billing:quotes"))


# Who may


PAGES = ["quotes", "quote-new"]


@pytest.mark.parametrize("name", PAGES)
def test_a_stranger_signs_in_first_and_an_assistant_is_not_let_in(business, as_assistant, as_bookkeeper, name):
    address = reverse(f"billing:{name}")
    assert Client().get(address).url.startswith(reverse("backoffice:sign-in"))
    assert as_assistant.get(address).status_code == 403
    assert as_bookkeeper.get(address).status_code == 200


@pytest.mark.parametrize("name", ["quote", "quote-edit", "quote-pdf", "option-new"])
def test_one_quote_is_for_those_who_see_money(quote, as_assistant, as_bookkeeper, name):
    address = reverse(f"billing:{name}", args=[quote.pk])
    assert Client().get(address).url.startswith(reverse("backoffice:sign-in"))
    assert as_assistant.get(address).status_code == 403
    assert as_bookkeeper.get(address).status_code == 200


@pytest.mark.parametrize("name", ["quote-offer", "quote-link", "quote-replace"])
def test_an_assistant_changes_no_quote(quote, as_assistant, name):
    assert as_assistant.post(reverse(f"billing:{name}", args=[quote.pk])).status_code == 403
    quote.refresh_from_db()
    assert quote.state == "draft"


def test_an_assistant_changes_no_option(quote, as_assistant):
    option = quote.options.first()
    for name in ("option-edit", "option-delete"):
        assert as_assistant.post(reverse(f"billing:{name}", args=[option.pk])).status_code == 403
    assert quote.options.filter(pk=option.pk).exists()


def test_what_an_hour_earns_is_only_for_those_who_see_margins(quote, as_owner_manager, as_bookkeeper):
    CostRates.objects.create(
        vehicle_per_mile=Decimal("0.70"), admin_minutes_per_visit=10, hourly_target=65, since=date(2026, 1, 1)
    )
    assert "Only for you" in page_of(as_owner_manager.get(quote.get_absolute_url()))
    practitioner = signed_in(UserFactory(role="practitioner"))
    for client in (as_bookkeeper, practitioner):
        page = page_of(client.get(quote.get_absolute_url()))
        assert "Only for you" not in page
        assert "Earned an hour" not in page


def test_only_for_you_is_closed_at_every_start(quote, as_owner_manager):
    CostRates.objects.create(since=date(2026, 1, 1))
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert '<details class="more" id="only-for-you">\n  <summary>Only for you' in page
    assert "<details open" not in page


# The page of a quote


def test_the_page_opens_with_three_options_and_says_what_it_is_not(quote, as_owner_manager):
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    opening, behind = page.split("3 more options", 1)
    for name in ("The whole guideline", "Full bodies only", "Weekly"):
        assert name in opening
    for name in ("Half as often", "Every other week", "Monthly"):
        assert name not in opening
        assert name in behind
    assert "$2,600.00" in opening
    assert "Mon 2 Mar to Sun 29 Mar" in opening
    assert HONEST in page
    assert "closeness to my guideline, in minutes; not benefit" in page


def test_a_chosen_option_is_among_those_it_opens_with(horse, owner_manager, as_owner_manager):
    quote, _ = offered([horse], owner_manager)
    quote.options.filter(name="Monthly").update(is_chosen=True)
    opening = page_of(as_owner_manager.get(quote.get_absolute_url())).split("3 more options")[0]
    assert "Monthly" in opening
    assert "Chosen" in opening
    assert "Half as often" not in opening


@pytest.mark.parametrize(("horses", "more"), [(1, 0), (1, 6), (4, 3)])
def test_the_page_takes_the_same_queries_for_any_number_of_options_and_horses(
    horse, owner_manager, as_owner_manager, *, horses, more, django_assert_num_queries
):
    others = [AnimalFactory(barn=horse.barn) for _ in range(horses - 1)]
    for other in others:
        owned(other)
    quote = drafted([horse, *others], owner_manager)
    for days in range(8, 8 + more):
        add_every(quote, days, owner_manager)
    with django_assert_num_queries(31):
        as_owner_manager.get(quote.get_absolute_url())


def test_a_quote_that_cannot_be_priced_says_what_is_missing(quote, as_owner_manager):
    Price.objects.filter(service=quote.spot_service).delete()
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "There is no price for the spot service on this price list yet." in page
    assert "Offer to the owner" not in page
    assert HONEST in page


def test_an_offered_quote_is_offered_once_and_shows_its_link_once(quote, as_owner_manager):
    response = as_owner_manager.post(reverse("billing:quote-offer", args=[quote.pk]), follow=True)
    assert "/p/quote/" in page_of(response)
    assert "sent; not opened yet." in page_of(response)
    again = as_owner_manager.get(quote.get_absolute_url())
    assert "/p/quote/" not in page_of(again)
    refused = as_owner_manager.post(reverse("billing:quote-offer", args=[quote.pk]))
    assert refused.status_code == 409
    assert "Only a draft can be changed." in page_of(refused)


def test_a_new_version_starts_as_a_draft(quote, as_owner_manager):
    as_owner_manager.post(reverse("billing:quote-offer", args=[quote.pk]))
    page = page_of(as_owner_manager.post(reverse("billing:quote-replace", args=[quote.pk]), follow=True))
    assert "Draft" in page
    assert Quote.objects.get(version=2).replaces == quote


def test_a_draft_has_a_paper_of_its_own(quote, as_owner_manager):
    response = as_owner_manager.get(reverse("billing:quote-pdf", args=[quote.pk]))
    assert response["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")


def test_the_letter_is_read_before_the_quote_is_offered(horse, owner_manager, as_owner_manager):
    quote = drafted([horse], owner_manager, title="Steady upkeep")
    quote.person.email = "desmond@example.org"
    quote.person.save()
    page = as_owner_manager.get(quote.get_absolute_url()).content.decode()
    assert "To desmond@example.org: Steady upkeep: a quote from" in page
    assert "/p/quote/…/" in page
    quote.person.email = ""
    quote.person.save()
    assert "The letter that goes out" not in as_owner_manager.get(quote.get_absolute_url()).content.decode()
