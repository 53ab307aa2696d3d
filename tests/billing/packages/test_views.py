"""Packages and monthly plans on screen: sold, listed, used, given back, stopped."""

from datetime import timedelta

import pytest
import time_machine
from django.urls import reverse

from billing.invoices.actions import confirm_charges
from billing.packages.sold import MonthlyRun, PackageSold, Use
from tests.factories.billing import AT, DAY, finished_visit, owned_horse, priced_service
from tests.factories.clients import PersonFactory
from tests.factories.packages import package_of, running_plan, sold_package

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def full(business):
    return priced_service("95.00", name="Full body")


@pytest.fixture
def payer():
    return PersonFactory(name="Desmond Quarrie")


def test_a_package_is_sold_from_the_account_and_shows_what_is_left(as_bookkeeper, full, payer):
    package, horse = package_of((full, 10)), owned_horse(payer, name="Biscuit")
    address = reverse("billing:package-sell", args=[payer.pk])
    assert "Ten full bodies: 10 × Full body, $800.00" in as_bookkeeper.get(address).content.decode()
    typed = {"package": package.pk, "animals": [horse.pk]}
    page = as_bookkeeper.post(address, typed, follow=True).content.decode()
    assert "Ten full bodies is sold" in page
    assert "10 of 10" in page
    assert "Biscuit" in page
    assert "10 of 10 Full body" in as_bookkeeper.get(reverse("billing:payer", args=[payer.pk])).content.decode()
    assert "10 × Full body, until 2 May 2026" in as_bookkeeper.get(reverse("billing:uncharged")).content.decode()


@pytest.mark.parametrize("typed", [{"package": ""}, {"package": "999"}, {"package": "<script>"}])
def test_a_package_that_is_not_on_sale_gets_a_sentence(as_bookkeeper, full, payer, typed):
    package_of((full, 10))
    package_of((full, 3), name="Three")
    response = as_bookkeeper.post(reverse("billing:package-sell", args=[payer.pk]), typed)
    assert response.status_code == 422
    assert not PackageSold.objects.exists()


def test_somebody_elses_horse_is_no_choice(as_bookkeeper, full, payer):
    package, other = package_of((full, 10)), owned_horse(PersonFactory())
    typed = {"package": package.pk, "animals": [other.pk]}
    assert as_bookkeeper.post(reverse("billing:package-sell", args=[payer.pk]), typed).status_code == 422


def test_a_use_is_confirmed_seen_and_given_back(as_owner_manager, owner_manager, full, payer):
    sold = sold_package(payer, full, owner_manager)
    finished_visit(owned_horse(payer, name="Biscuit"), full)
    page = as_owner_manager.get(reverse("billing:uncharged")).content.decode()
    assert "1 of 10 of Ten full bodies" in page
    assert "prepaid" in page
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    address = reverse("billing:use-undo", args=[Use.objects.get().pk])
    assert "9 of 10" in as_owner_manager.get(sold.get_absolute_url()).content.decode()
    page = as_owner_manager.post(address, {"reason": "wrong horse <b>"}, follow=True).content.decode()
    assert "10 of 10" in page
    assert "wrong horse &lt;b&gt;" in page
    assert "Not yet charged" in page


def test_a_monthly_plan_is_started_and_stopped(as_bookkeeper, owner_manager, full, payer):
    horse = owned_horse(payer, name="Biscuit")
    plan = running_plan(owned_horse(payer), full, owner_manager).plan
    address = reverse("billing:monthly-run-start", args=[payer.pk])
    typed = {"plan": plan.pk, "animal": horse.pk, "start": DAY.isoformat()}
    assert "runs from 2 Mar 2026" in as_bookkeeper.post(address, typed, follow=True).content.decode()
    again = as_bookkeeper.post(address, typed)
    assert again.status_code == 422
    assert "running for Biscuit already" in again.content.decode()
    run = MonthlyRun.objects.get(animal=horse)
    stop = reverse("billing:monthly-run-stop", args=[run.pk])
    assert "moved away" in as_bookkeeper.post(stop, {"reason": "moved away"}, follow=True).content.decode()


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"start": "1926-01-01"}, "Check the year"),
        ({"start": "2029-01-01"}, "more than a year away"),
        ({"ends_on": (DAY - timedelta(days=1)).isoformat()}, "before the first"),
        ({"animal": "0"}, "Choose one from the list."),
        ({"plan": ""}, "Choose a plan."),
    ],
)
def test_an_odd_start_gets_a_sentence(as_bookkeeper, owner_manager, payer, changes, sentence):
    full = priced_service("95.00")
    horse = owned_horse(payer)
    plan = running_plan(owned_horse(payer), full, owner_manager).plan
    typed = {"plan": plan.pk, "animal": horse.pk, "start": DAY.isoformat(), **changes}
    response = as_bookkeeper.post(reverse("billing:monthly-run-start", args=[payer.pk]), typed)
    assert response.status_code == 422
    assert sentence in response.content.decode()


def test_the_list_filters_by_state(as_bookkeeper, owner_manager, full, payer):
    sold_package(payer, full, owner_manager, name="Running")
    sold_package(payer, full, owner_manager, name="Gone by", days=1, on=DAY - timedelta(days=9))
    address = reverse("billing:packages")
    page = as_bookkeeper.get(address, {"state": "lapsed"}).content.decode()
    assert "Gone by" in page
    assert "Running" not in page


def test_keeping_the_rest_of_a_lapsed_one_needs_the_rule(as_bookkeeper, owner_manager, full, payer):
    sold = sold_package(payer, full, owner_manager, days=1, on=DAY - timedelta(days=9))
    assert "Keep what is unused" in as_bookkeeper.get(sold.get_absolute_url()).content.decode()
    page = as_bookkeeper.post(reverse("billing:package-keep", args=[sold.pk]), follow=True).content.decode()
    assert "not recorded that keeping the rest is allowed" in page


def test_an_assistant_sees_and_changes_nothing_of_it(as_assistant, owner_manager, full, payer, client):
    sold, run = sold_package(payer, full, owner_manager), running_plan(owned_horse(payer), full, owner_manager)
    pages = [reverse("billing:packages"), reverse("billing:monthly-runs"), sold.get_absolute_url()]
    pages += [run.get_absolute_url(), reverse("billing:package-sell", args=[payer.pk])]
    for address in pages:
        assert as_assistant.get(address).status_code == 403
        assert client.get(address).status_code == 302
    for name, pk in (("package-keep", sold.pk), ("monthly-run-stop", run.pk)):
        assert as_assistant.post(reverse(f"billing:{name}", args=[pk]), {"reason": "x"}).status_code == 403


@pytest.mark.parametrize("name", ["packages", "monthly-runs"])
def test_the_lists_take_the_same_queries_at_1_and_at_30_rows(
    as_bookkeeper, owner_manager, payer, name, django_assert_num_queries
):
    full = priced_service("95.00")
    run = running_plan(owned_horse(payer), full, owner_manager)
    sold_package(payer, full, owner_manager)
    with django_assert_num_queries(5):
        as_bookkeeper.get(reverse(f"billing:{name}"))
    for _ in range(29):
        sold_package(payer, full, owner_manager)
        MonthlyRun.objects.create(animal=owned_horse(payer), plan=run.plan, name="Two", price=1, start=DAY)
    with django_assert_num_queries(5):
        as_bookkeeper.get(reverse(f"billing:{name}"))


def test_the_trail_takes_the_same_queries_for_one_use_and_for_thirty(
    as_bookkeeper, owner_manager, full, payer, django_assert_num_queries
):
    sold, horse = sold_package(payer, full, owner_manager, count=40), owned_horse(payer)
    finished_visit(horse, full)
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    with django_assert_num_queries(9):
        as_bookkeeper.get(sold.get_absolute_url())
    for _ in range(29):
        finished_visit(horse, full)
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    with django_assert_num_queries(9):
        assert "10 of 40" in as_bookkeeper.get(sold.get_absolute_url()).content.decode()
