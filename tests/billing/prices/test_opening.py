"""A new business writes down its first prices on one page."""

from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from backoffice.business.models import Business
from billing.prices.models import CallOutRule, Price, PriceList
from clients.plans.models import Service
from tests.factories.billing import priced_service

pytestmark = pytest.mark.django_db

ADDRESS = "/settings/prices/first/"
TYPED = {
    "full_minutes": "60",
    "full_price": "95",
    "spot_minutes": "20",
    "spot_price": "45",
    "uses_machine": "on",
    "call_out": "30",
    "split": "owner",
}
TODAY = date(2026, 3, 2)


@pytest.fixture(autouse=True)
def today(business):
    with time_machine.travel("2026-03-02 18:00:00Z", tick=False):
        yield


def test_one_page_makes_services_prices_and_the_call_out(as_owner_manager):
    answer = as_owner_manager.post(ADDRESS, TYPED)
    assert answer.url == reverse("billing:prices")
    assert [(price.service.kind, price.service.minutes, price.amount) for price in Price.objects.all()] == [
        ("full", 60, Decimal(95)),
        ("spot", 20, Decimal(45)),
    ]
    assert {price.since for price in Price.objects.all()} == {TODAY}
    assert PriceList.objects.get().is_default
    rule = CallOutRule.objects.get()
    assert (rule.amount, rule.split, rule.since) == (Decimal(30), "owner", TODAY)


def test_a_spot_and_a_call_out_may_be_left_out(as_owner_manager):
    as_owner_manager.post(ADDRESS, {**TYPED, "spot_price": "", "call_out": "", "uses_machine": ""})
    service = Service.objects.get()
    assert (service.kind, service.uses_machine) == ("full", False)
    assert not CallOutRule.objects.exists()


def test_a_service_that_is_there_is_priced_and_not_made_twice(as_owner_manager):
    known = Service.objects.create(name="Whole horse", kind="full", minutes=75)
    as_owner_manager.post(ADDRESS, TYPED)
    assert Price.objects.get(amount=95).service == known


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"full_price": ""}, "Price of one is missing."),
        ({"full_price": "ninety"}, "Write an amount in figures, such as 95.00."),
        ({"full_minutes": "0"}, "Write 5 or more."),
        ({"call_out": "-1"}, "Write 0 or more."),
        ({"split": "lottery"}, "Choose one from the list."),
    ],
)
def test_bad_input_gets_a_sentence_and_writes_nothing(as_owner_manager, changed, sentence):
    answer = as_owner_manager.post(ADDRESS, {**TYPED, **changed})
    assert answer.status_code == 422
    assert sentence in answer.content.decode()
    assert not Service.objects.exists()
    assert not PriceList.objects.exists()


def test_a_currency_without_decimals_takes_whole_amounts_only(as_owner_manager):
    Business.objects.update(currency="JPY")
    page = as_owner_manager.post(ADDRESS, {**TYPED, "full_price": "9500.5"}).content.decode()
    assert "Write an amount in figures, such as 95." in page


def test_where_there_are_prices_it_is_refused_and_not_offered(as_owner_manager):
    assert ADDRESS in as_owner_manager.get(reverse("billing:prices")).content.decode()
    priced_service()
    assert "There are prices already" in as_owner_manager.post(ADDRESS, TYPED).content.decode()
    assert Price.objects.count() == 1
    assert ADDRESS not in as_owner_manager.get(reverse("billing:prices")).content.decode()


def test_only_who_changes_settings_may(as_bookkeeper, as_assistant):
    assert as_bookkeeper.get(ADDRESS).status_code == 403
    assert as_assistant.post(ADDRESS, TYPED).status_code == 403
    assert ADDRESS not in as_bookkeeper.get(reverse("billing:prices")).content.decode()
