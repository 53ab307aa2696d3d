from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from billing.prices.models import CallOutRule, HireRate, PersonTerms, Price, PriceList, TaxRate
from billing.prices.rules import CostRates, FeeRule, MoneyRules
from tests.factories.billing import (
    AT,
    DAY,
    CallOutRuleFactory,
    PriceFactory,
    PriceListFactory,
    TaxRateFactory,
    priced_service,
)
from tests.factories.clients import PersonFactory, ServiceFactory

pytestmark = pytest.mark.django_db
HIRE_VISITS = ["training", "follow_up", "delivery", "collection", "deposit"]
LISTS = [
    "call-outs",
    "hire-rates",
    "tax-rates",
    "money-rules",
    "fee-rules",
    "cost-rates",
    "terms",
    "package-offers",
    "plan-offers",
]


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def service(business):
    return ServiceFactory(name="Full body")


def price_typed(on_offer, **changes: str) -> dict[str, str]:
    typed = {
        "price_list": str(PriceListFactory().pk),
        "service": str(on_offer.pk),
        "amount": "95.00",
        "tax_category": "standard",
        "since": DAY.isoformat(),
    }
    return {**typed, **changes}


def test_a_price_with_its_lower_prices_is_recorded(as_owner_manager, service):
    typed = price_typed(service, count_1="6", amount_1="85.00")
    response = as_owner_manager.post(reverse("billing:price-new"), typed, follow=True)
    assert "Recorded from 2 Mar 2026." in response.content.decode()
    assert "6 or more: $85.00" in response.content.decode()
    assert Price.objects.get().breaks.get().count == 6


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"amount": "-1"}, "Write 0 or more."),
        ({"amount": "95.005"}, "Write an amount in figures, such as 95.00."),
        ({"amount": "9999999"}, "Write 1,000,000 or less."),
        ({"amount": ""}, "Price of one session is missing."),
        ({"since": "1926-01-01"}, "before 1980"),
        ({"since": "1990-01-01"}, "before 2000"),
        ({"since": "2099-01-01"}, "more than 5 years ahead"),
        ({"service": "999"}, "Choose one from the list."),
        ({"tax_category": "none"}, "Choose one from the list."),
        ({"count_1": "6"}, "Write what each costs then."),
        ({"amount_1": "85"}, "Write from how many sessions on."),
        ({"count_1": "1", "amount_1": "85"}, "starts at 2 sessions or more"),
        ({"count_1": "6", "amount_1": "95"}, "lower than the one before it"),
    ],
)
def test_bad_input_gets_a_sentence(as_owner_manager, service, changes, sentence):
    response = as_owner_manager.post(reverse("billing:price-new"), price_typed(service, **changes))
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not Price.objects.exists()


def test_a_price_of_a_past_day_is_refused_and_what_was_typed_stays(as_owner_manager, service):
    PriceFactory(service=service)
    typed = price_typed(service, amount="77.00", since="2026-02-01")
    response = as_owner_manager.post(reverse("billing:price-new"), typed)
    assert response.status_code == 422
    assert "The past is never rewritten" in response.content.decode()
    assert 'value="77.00"' in response.content.decode()


def test_a_price_that_has_begun_cannot_be_edited(as_owner_manager, service):
    price = PriceFactory(service=service)
    address = reverse("billing:rate-edit", args=["prices", price.pk])
    assert "part of the past" in as_owner_manager.get(address).content.decode()
    response = as_owner_manager.post(address, price_typed(service, amount="1.00"))
    assert response.status_code == 422
    assert Price.objects.get().amount == Decimal("95.00")


def test_a_price_to_come_can_be_edited_and_taken_back(as_owner_manager, service):
    coming = DAY + timedelta(days=7)
    price = PriceFactory(service=service, since=coming)
    address = reverse("billing:rate-edit", args=["prices", price.pk])
    as_owner_manager.post(address, price_typed(service, amount="91.00", since=coming.isoformat()))
    assert Price.objects.get().amount == Decimal("91.00")
    as_owner_manager.post(reverse("billing:rate-take-back", args=["prices", price.pk]))
    assert not Price.objects.exists()


@pytest.mark.parametrize(
    ("name", "typed", "model"),
    [
        ("call-out-new", {"amount": "30.00", "split": "horse", "zone": "C"}, CallOutRule),
        (
            "hire-rate-new",
            {
                "day": "60",
                "week": "300",
                "training": "120",
                "follow_up": "95",
                "delivery": "0",
                "collection": "0",
                "deposit": "200",
            },
            HireRate,
        ),
        ("tax-rate-new", {"category": " Standard ", "percent": "7.25", "text": ""}, TaxRate),
        ("money-rules-new", {"tax_rounding": "line", "deposit": "percent", "deposit_percent": "25"}, MoneyRules),
        (
            "fee-rule-new",
            {"late_cancel": "50", "absent": "100", "wet": "0", "dangerous": "0", "refused": "0"},
            FeeRule,
        ),
        (
            "cost-rate-new",
            {"vehicle_per_mile": "0.725", "admin_minutes_per_visit": "5", "hourly_target": "65"},
            CostRates,
        ),
    ],
)
def test_each_kind_of_rate_is_recorded(as_owner_manager, name, typed, model):
    response = as_owner_manager.post(reverse(f"billing:{name}"), {**typed, "since": DAY.isoformat()}, follow=True)
    assert "Recorded from 2 Mar 2026." in response.content.decode()
    assert model.objects.count() == 1


@pytest.mark.parametrize(
    ("name", "typed", "sentence"),
    [
        ("hire-rate-new", {"day": "60", "week": "50", **dict.fromkeys(HIRE_VISITS, "1")},
         "A week costs at least as much as a day."),
        ("tax-rate-new", {"category": "standard", "percent": "130"}, "100 or less"),
        ("tax-rate-new", {"category": "x" * 60, "percent": "5"}, "at most 20 characters"),
        ("call-out-new", {"amount": "30", "split": "everybody"}, "Choose one from the list."),
        ("money-rules-new", {"tax_rounding": "total", "deposit": "percent"}, "Write how much is asked."),
        ("money-rules-new", {"tax_rounding": "total", "deposit": "none", "keeps_unused": "on"}, "Write down who says"),
        ("call-out-new", {"way": "bands", "split": "horse"}, "Write at least one band."),
        ("call-out-new", {"way": "bands", "split": "horse", "to_1": "10"}, "Write what a stop in this band costs."),
        ("call-out-new", {"way": "bands", "split": "horse", "to_1": "9", "band_1": "2", "to_2": "8", "band_2": "3"},
         "Each band ends farther out"),
        ("call-out-new", {"way": "bands", "split": "horse", "band_1": "2", "to_2": "8", "band_2": "3"},
         "only the last may have no end"),
        ("call-out-new", {"way": "free", "split": "horse", "free": "10"}, "Then, for each one farther is missing."),
        ("call-out-new", {"way": "flat", "split": "horse"}, "Amount a stop is missing."),
        ("cost-rate-new", {"vehicle_per_mile": "0.7", "admin_minutes_per_visit": "900", "hourly_target": "1"},
         "120 or less"),
    ],
)  # fmt: skip
def test_an_absurd_rate_gets_a_sentence(as_owner_manager, name, typed, sentence):
    response = as_owner_manager.post(reverse(f"billing:{name}"), {**typed, "since": DAY.isoformat()})
    assert response.status_code == 422
    assert sentence in response.content.decode()


def test_a_call_out_form_shows_the_fields_of_the_chosen_way_only(as_owner_manager):
    page = as_owner_manager.get(reverse("billing:call-out-new"), {"way": "free"}).content.decode()
    assert 'name="per_unit"' in page
    assert 'name="amount"' not in page
    assert 'name="to_1"' not in page
    assert "one way in miles, from your base to the barn" in page
    assert '<a href="?way=free" aria-current="page">' in page


def test_bands_are_recorded_and_said_in_one_line(as_owner_manager):
    typed = {"way": "bands", "split": "horse", "to_1": "10", "band_1": "20", "band_2": "60", "minimum": "25"}
    address = reverse("billing:call-out-new")
    page = as_owner_manager.post(address, {**typed, "since": DAY.isoformat()}, follow=True).content.decode()
    assert "to 10 mi $20.00, farther $60.00, at least $25.00" in page


def test_somebody_gets_a_price_list_of_their_own(as_bookkeeper):
    rescue, charity = PersonFactory(name="Soft Gate"), PriceListFactory(name="Charity", is_default=False)
    typed = {"person": rescue.pk, "price_list": charity.pk, "since": DAY.isoformat()}
    as_bookkeeper.post(reverse("billing:terms-new"), typed)
    assert PersonTerms.objects.get().price_list == charity
    assert "Charity" in as_bookkeeper.get(reverse("billing:payer", args=[rescue.pk])).content.decode()


def test_price_lists_are_made_and_renamed(as_owner_manager):
    as_owner_manager.post(reverse("billing:price-list-new"), {"name": "Standard"})
    made = PriceList.objects.get()
    as_owner_manager.post(reverse("billing:price-list-edit", args=[made.pk]), {"name": "Everybody"})
    assert PriceList.objects.get().name == "Everybody"


def test_the_overview_says_what_holds_today(as_owner_manager, service):
    PriceFactory(service=service)
    CallOutRuleFactory(zone="C", amount=Decimal("55"))
    page = as_owner_manager.get(reverse("billing:prices")).content.decode()
    assert "$95.00" in page
    assert "$55.00" in page
    assert "Ask your local tax office" in page


@pytest.mark.parametrize("name", LISTS)
def test_each_list_opens_searches_and_exports(as_owner_manager, name):
    CallOutRuleFactory(zone="C")
    TaxRateFactory()
    address = reverse(f"billing:{name}")
    assert as_owner_manager.get(address).status_code == 200
    assert as_owner_manager.get(address, {"q": "c", "sort": "-since"}).status_code == 200
    assert as_owner_manager.get(address, {"_export": "xlsx"}).status_code == 200


def test_a_price_list_takes_the_same_queries_at_1_and_at_30_rows(as_owner_manager, django_assert_num_queries):
    PriceFactory()
    address = PriceListFactory().get_absolute_url()
    with django_assert_num_queries(7):
        as_owner_manager.get(address)
    for _ in range(29):
        priced_service()
    with django_assert_num_queries(7):
        as_owner_manager.get(address)


def test_who_may_see_and_change_what(as_assistant, as_bookkeeper, business):
    assert as_assistant.get(reverse("billing:prices")).status_code == 403
    assert as_bookkeeper.get(reverse("billing:prices")).status_code == 200
    assert as_bookkeeper.get(reverse("billing:price-new")).status_code == 403
    assert as_bookkeeper.get(reverse("billing:price-list-new")).status_code == 403
    assert as_bookkeeper.get(reverse("billing:cost-rates")).status_code == 403
    assert as_bookkeeper.get(reverse("billing:tax-rates")).status_code == 200
    for name in LISTS:
        assert as_assistant.get(reverse(f"billing:{name}")).status_code == 403


def test_a_kind_of_rate_that_is_none_is_not_found(as_owner_manager):
    assert as_owner_manager.get(reverse("billing:rate-edit", args=["gifts", 1])).status_code == 404
