"""Packages and monthly plans on sale: dated like every price."""

from datetime import timedelta
from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from billing.packages.models import MonthlyPlan, Package, PackagePart
from billing.packages.queries import monthly_plans_on_sale, packages_on_sale
from tests.factories.billing import AT, DAY
from tests.factories.clients import ServiceFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def full(business):
    return ServiceFactory(name="Full body")


def typed(full, **changes: str) -> dict[str, str]:
    values = {"name": "Ten full bodies", "price": "800.00", "valid_days": "180", "tax_category": "standard"}
    line = {"service_1": str(full.pk), "count_1": "10", "is_offered": "on", "since": DAY.isoformat()}
    return {**values, **line, **changes}


def test_a_package_is_recorded_and_goes_on_sale(as_owner_manager, full):
    page = as_owner_manager.post(reverse("billing:package-offer-new"), typed(full), follow=True).content.decode()
    assert "10 × Full body" in page
    (package,) = packages_on_sale(DAY)
    assert (package.price, package.valid_days, package.parts.get().count) == (Decimal("800.00"), 180, 10)


def test_a_monthly_plan_has_a_price_for_each_one_more(as_owner_manager, full):
    values = typed(full, name="Two a month", price="170.00", count_1="2", beyond_1="85.00")
    as_owner_manager.post(reverse("billing:plan-offer-new"), values)
    (plan,) = monthly_plans_on_sale(DAY)
    assert plan.parts.get().beyond == Decimal("85.00")


def test_new_terms_end_the_old_ones_on_their_day_and_one_may_leave_the_shelf(full):
    later = DAY + timedelta(days=30)
    for since, price, offered in ((DAY, 800, True), (later, 850, True), (later + timedelta(days=30), 850, False)):
        package = Package.objects.create(name="Ten", price=price, since=since, is_offered=offered)
        PackagePart.objects.create(package=package, service=full, count=10)
    assert [each.price for each in packages_on_sale(DAY)] == [800]
    assert [each.price for each in packages_on_sale(later)] == [850]
    assert packages_on_sale(later + timedelta(days=30)) == []
    assert packages_on_sale(DAY - timedelta(days=1)) == []


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"name": ""}, "Name is missing."),
        ({"name": "x" * 5000}, "at most 60 characters"),
        ({"price": "-1"}, "Write 0 or more."),
        ({"valid_days": "0"}, "Write 1 or more."),
        ({"count_1": ""}, "Write how many."),
        ({"service_1": ""}, "Choose the service."),
        ({"service_1": "", "count_1": ""}, "Write which sessions are in it, and how many."),
        ({"count_1": "-3"}, "Write 1 or more."),
        ({"count_1": "9999"}, "Write 500 or less."),
        ({"tax_category": "gold"}, "Choose one from the list."),
    ],
)
def test_bad_input_gets_a_sentence(as_owner_manager, full, changes, sentence):
    response = as_owner_manager.post(reverse("billing:package-offer-new"), typed(full, **changes))
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not Package.objects.exists()


def test_a_service_named_twice_is_refused_and_what_was_typed_stays(as_owner_manager, full):
    twice = typed(full, name="إيقاع 🐴 <script>", service_2=str(full.pk), count_2="3")
    response = as_owner_manager.post(reverse("billing:package-offer-new"), twice)
    assert response.status_code == 422
    assert "named twice" in response.content.decode()
    assert "إيقاع 🐴 &lt;script&gt;" in response.content.decode()


def test_terms_that_have_begun_are_not_changed(as_owner_manager, full):
    package = Package.objects.create(name="Ten", price=800, since=DAY - timedelta(days=1))
    address = reverse("billing:rate-edit", args=["package-offers", package.pk])
    assert as_owner_manager.post(address, typed(full, price="1.00")).status_code == 422
    assert Package.objects.get().price == 800


def test_the_lists_take_the_same_queries_at_1_and_at_30_rows(as_owner_manager, full, django_assert_num_queries):
    def more(count: int) -> None:
        for _ in range(count):
            number = Package.objects.count()
            package = Package.objects.create(name=f"P{number}", price=1, since=DAY)
            PackagePart.objects.create(package=package, service=full, count=1)
            MonthlyPlan.objects.create(name=f"M{number}", price=1, since=DAY).parts.create(service=full, count=1)

    more(1)
    for name in ("package-offers", "plan-offers"):
        with django_assert_num_queries(7):
            as_owner_manager.get(reverse(f"billing:{name}"))
    more(29)
    for name in ("package-offers", "plan-offers"):
        with django_assert_num_queries(7):
            as_owner_manager.get(reverse(f"billing:{name}"))
