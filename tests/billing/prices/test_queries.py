from datetime import date, timedelta
from decimal import Decimal

import pytest

from billing.prices.models import TaxExemption
from billing.prices.queries import (
    call_out_for,
    cost_rates_on,
    hire_rate_on,
    price_book,
    price_list_of,
    price_of,
    tax_book,
    tax_rate_of,
)
from tests.factories.billing import (
    CallOutRuleFactory,
    PersonTermsFactory,
    PriceFactory,
    PriceListFactory,
    TaxRateFactory,
    priced_service,
)
from tests.factories.clients import BarnFactory, PersonFactory

pytestmark = pytest.mark.django_db
BEFORE, FIRST, LATER = date(2025, 12, 31), date(2026, 1, 1), date(2026, 3, 5)


def test_a_price_holds_from_its_day_until_the_next_one_starts():
    service = priced_service("95.00")
    PriceFactory(service=service, amount=Decimal("99.00"), since=LATER)
    standard = PriceListFactory()
    assert price_of(service, standard, BEFORE) is None
    assert price_of(service, standard, FIRST).amount == Decimal("95.00")
    assert price_of(service, standard, date(2026, 3, 4)).amount == Decimal("95.00")
    assert price_of(service, standard, LATER).amount == Decimal("99.00")


def test_a_list_with_gaps_falls_back_to_the_default_list():
    service, charity = priced_service("95.00"), PriceListFactory(name="Charity", is_default=False)
    assert price_of(service, charity, FIRST).amount == Decimal("95.00")
    PriceFactory(service=service, price_list=charity, amount=Decimal("60.00"))
    assert price_of(service, charity, FIRST).amount == Decimal("60.00")


def test_the_rule_of_the_zone_wins_over_the_general_one():
    CallOutRuleFactory(amount=Decimal("30"))
    CallOutRuleFactory(amount=Decimal("55"), zone="C", since=LATER)
    far, near = BarnFactory(call_out_zone="C"), BarnFactory()
    assert call_out_for(far, FIRST).amount == 30
    assert call_out_for(far, LATER).amount == 55
    assert call_out_for(near, LATER).amount == 30
    assert call_out_for(near, BEFORE) is None


def test_nothing_recorded_is_no_tax_no_hire_and_no_cost():
    somebody = PersonFactory()
    assert tax_rate_of("standard", somebody, FIRST) is None
    assert hire_rate_on(FIRST) is None
    assert cost_rates_on(FIRST) is None
    TaxRateFactory(percent=Decimal("5"))
    assert tax_rate_of("standard", somebody, BEFORE) is None
    assert tax_rate_of("standard", somebody, FIRST).percent == 5
    assert tax_rate_of("reduced", somebody, FIRST) is None


def test_a_certificate_takes_tax_away_up_to_its_last_day():
    TaxRateFactory(percent=Decimal("5"), is_included=True)
    rescue, until = PersonFactory(), LATER - timedelta(days=1)
    TaxExemption.objects.create(person=rescue, certificate="C-77", reason="Charity", since=FIRST, until=until)
    for find in (tax_rate_of, lambda category, who, day: tax_book().tax_rate_of(category, who.pk, day)):
        assert find("standard", PersonFactory(), FIRST).percent == 5
        found = find("standard", rescue, FIRST)
        assert (found.percent, found.is_included, found.text) == (0, False, "Charity, certificate C-77")
        assert find("standard", rescue, LATER).percent == 5
        assert find("none recorded", rescue, FIRST) is None


def test_a_persons_list_holds_from_its_day_and_everybody_else_has_the_default():
    standard, charity = PriceListFactory(), PriceListFactory(name="Charity", is_default=False)
    rescue = PersonFactory()
    PersonTermsFactory(person=rescue, price_list=charity, since=LATER)
    assert price_list_of(rescue, FIRST) == standard
    assert price_list_of(rescue, LATER) == charity
    assert price_list_of(PersonFactory(), LATER) == standard


def test_the_book_read_once_says_the_same_as_the_single_questions():
    service, rescue = priced_service("95.00"), PersonFactory()
    charity = PriceListFactory(name="Charity", is_default=False)
    PersonTermsFactory(person=rescue, price_list=charity)
    PriceFactory(service=service, price_list=charity, amount=Decimal("60.00"), since=LATER)
    CallOutRuleFactory(amount=Decimal("30"))
    CallOutRuleFactory(amount=Decimal("55"), zone="C")
    TaxRateFactory()
    book = price_book()
    for day in (BEFORE, FIRST, LATER):
        assert book.price_list_of(rescue.pk, day) == price_list_of(rescue, day)
        assert book.price_of(service.pk, charity, day) == price_of(service, charity, day)
        assert book.tax_rate_of("standard", rescue.pk, day) == tax_rate_of("standard", rescue, day)
        for zone in ("", "C", "D"):
            assert book.call_out_for(zone, day) == call_out_for(BarnFactory(call_out_zone=zone), day)
