from datetime import date, timedelta
from decimal import Decimal

import pytest

from backoffice.audit.models import Entry
from backoffice.refusal import Refused
from billing.prices.actions import change_rate, record_rate, save_price_list, take_back_rate
from billing.prices.models import Break, CallOutRule, Price, PriceList, TaxRate
from billing.prices.queries import price_of
from tests.factories.billing import AT, DAY, CallOutRuleFactory, PriceFactory, PriceListFactory, priced_service
from tests.factories.clients import ServiceFactory

pytestmark = pytest.mark.django_db
TOMORROW, YESTERDAY = DAY + timedelta(days=1), DAY - timedelta(days=1)


def new_price(service, amount: str = "99.00", since: date = TOMORROW) -> Price:
    return Price(price_list=PriceListFactory(), service=service, amount=Decimal(amount), since=since)


def record(rate, by, breaks=()) -> None:
    record_rate(rate=rate, rows=[Break(count=count, amount=amount) for count, amount in breaks], at=AT, by=by)


def test_a_new_price_ends_the_old_one_on_its_first_day(owner_manager):
    service = priced_service("95.00")
    record(new_price(service), owner_manager, [(6, Decimal("85.00"))])
    assert price_of(service, PriceListFactory(), DAY).amount == Decimal("95.00")
    after = price_of(service, PriceListFactory(), TOMORROW)
    assert [(tier.count, tier.amount) for tier in after.breaks.all()] == [(6, Decimal("85.00"))]
    assert Entry.objects.get().action == "price recorded"


def test_the_first_price_ever_may_start_in_the_past(owner_manager):
    record(new_price(ServiceFactory(), since=date(2020, 1, 1)), owner_manager)
    assert Price.objects.count() == 1


def test_a_price_from_today_is_fine(owner_manager):
    record(new_price(priced_service(), since=DAY), owner_manager)
    assert Price.objects.count() == 2


@pytest.mark.parametrize("since", [YESTERDAY, date(2020, 1, 1), date(1926, 1, 1)])
def test_the_past_is_never_rewritten(owner_manager, since):
    service = priced_service()
    with pytest.raises(Refused, match="The past is never rewritten"):
        record(new_price(service, since=since), owner_manager)


def test_two_prices_from_one_day_are_refused(owner_manager):
    service = priced_service()
    record(new_price(service), owner_manager)
    with pytest.raises(Refused, match="recorded from 3 Mar 2026 already"):
        record(new_price(service), owner_manager)


@pytest.mark.parametrize(
    ("breaks", "sentence"),
    [
        ([(6, "85"), (6, "80")], "larger number of sessions"),
        ([(6, "85"), (3, "80")], "larger number of sessions"),
        ([(1, "85")], "larger number of sessions"),
        ([(6, "99")], "lower than the one before"),
        ([(6, "85"), (10, "90")], "lower than the one before"),
    ],
)
def test_odd_breaks_are_refused(owner_manager, breaks, sentence):
    with pytest.raises(Refused, match=sentence):
        record(new_price(ServiceFactory()), owner_manager, [(count, Decimal(amount)) for count, amount in breaks])
    assert not Price.objects.exists()


def test_a_price_whose_day_has_passed_is_not_changed(owner_manager):
    price = PriceFactory(since=YESTERDAY)
    price.amount = Decimal("1.00")
    with pytest.raises(Refused, match="in force since 1 Mar 2026"):
        change_rate(rate=price, at=AT, by=owner_manager)
    assert Price.objects.get().amount == Decimal("95.00")


def test_a_price_still_to_come_can_be_mended(owner_manager):
    price = PriceFactory(since=TOMORROW)
    price.amount, price.since = Decimal("90.00"), TOMORROW + timedelta(days=1)
    change_rate(rate=price, rows=[Break(count=5, amount=Decimal("80"))], at=AT, by=owner_manager)
    kept = Price.objects.get()
    assert (kept.amount, kept.since, kept.breaks.count()) == (Decimal("90"), TOMORROW + timedelta(days=1), 1)


def test_a_price_still_to_come_is_not_moved_into_the_past(owner_manager):
    service = priced_service()
    price = PriceFactory(service=service, since=TOMORROW)
    price.since = YESTERDAY
    with pytest.raises(Refused, match="The past is never rewritten"):
        change_rate(rate=price, at=AT, by=owner_manager)


def test_taking_back_lets_the_one_before_go_on(owner_manager):
    service = priced_service("95.00")
    coming = PriceFactory(service=service, since=TOMORROW)
    take_back_rate(rate=coming, at=AT, by=owner_manager)
    assert price_of(service, PriceListFactory(), TOMORROW).amount == Decimal("95.00")


def test_what_has_begun_is_not_taken_back(owner_manager):
    with pytest.raises(Refused, match="part of the past"):
        take_back_rate(rate=PriceFactory(since=YESTERDAY), at=AT, by=owner_manager)


def test_each_zone_has_its_own_past(owner_manager):
    CallOutRuleFactory(since=YESTERDAY)
    record(CallOutRule(zone="C", amount=Decimal(55), since=YESTERDAY), owner_manager)
    with pytest.raises(Refused, match="The past is never rewritten"):
        record(CallOutRule(zone="C", amount=Decimal(50), since=YESTERDAY - timedelta(days=1)), owner_manager)


def test_each_tax_category_has_its_own_past(owner_manager):
    record(TaxRate(category="standard", percent=Decimal(5), since=YESTERDAY), owner_manager)
    record(TaxRate(category="reduced", percent=Decimal(2), since=YESTERDAY), owner_manager)
    with pytest.raises(Refused, match="The past is never rewritten"):
        record(TaxRate(category="reduced", percent=Decimal(3), since=YESTERDAY - timedelta(days=1)), owner_manager)


def test_one_list_always_holds_for_everybody_else(owner_manager):
    first = save_price_list(price_list=PriceList(name="Standard"), at=AT, by=owner_manager)
    assert first.is_default
    second = save_price_list(price_list=PriceList(name="New", is_default=True), at=AT, by=owner_manager)
    assert list(PriceList.objects.filter(is_default=True)) == [second]
    second.is_default = False
    save_price_list(price_list=second, at=AT, by=owner_manager)
    assert PriceList.objects.filter(is_default=True).count() == 1
