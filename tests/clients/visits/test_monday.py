from datetime import date, timedelta

import pytest
import time_machine
from django.urls import reverse

from clients.animals.models import HealthFact
from clients.paperwork.models import Form
from clients.visits.monday import mondays_list
from tests.conftest import NOW
from tests.factories.clients import HealthFactFactory
from tests.factories.paperwork import ready_animal, referral_for
from tests.factories.visits import VisitFactory

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 2)
QUERIES = 18


@pytest.fixture(autouse=True)
def on_the_day(business):
    with time_machine.travel(NOW, tick=False):
        yield


def visit_in(days, **fields):
    return VisitFactory(animal=ready_animal(**fields), day=TODAY + timedelta(days=days))


def test_a_consent_that_ends_in_nine_days_stands_before_the_round_after_it_with_its_visit():
    visit = visit_in(10)
    Form.objects.update(valid_until=TODAY + timedelta(days=9))
    [(day, [matter])] = mondays_list(TODAY)
    assert (day, matter.result, matter.lapses, matter.visits) == (visit.day, "hold", True, [visit])
    assert f"animal={visit.animal_id}" in matter.href


def test_a_consent_that_ends_soon_after_the_visit_is_listed_too():
    visit_in(3)
    Form.objects.update(valid_until=TODAY + timedelta(days=9))
    [(_, [matter])] = mondays_list(TODAY)
    assert (matter.result, matter.sentence) == ("", "The consent ends on Wed 11 Mar 2026.")


def test_the_vets_yes_that_ends_before_the_visit_leads_to_the_vet_and_a_request_is_shown_instead():
    visit = visit_in(8)
    HealthFactFactory(animal=visit.animal, kind=HealthFact.Kind.EPM, state=HealthFact.State.YES, asked_on=TODAY)
    referral_for(visit.animal, until=TODAY + timedelta(days=5))
    [(_, [matter])] = mondays_list(TODAY)
    assert (matter.ask, matter.lapses) == ("Ask the vet", True)
    referral_for(visit.animal, answer="waiting", answered_on=None, since=None, until=None)
    assert mondays_list(TODAY)[0][1][0].ask == "See the request"


def test_a_question_that_grows_old_is_asked_once_for_all_its_visits():
    visit = visit_in(8, asked_on=TODAY - timedelta(days=85))
    VisitFactory(animal=visit.animal, day=visit.day + timedelta(days=1))
    [(_, matters)] = mondays_list(TODAY)
    assert {matter.ask for matter in matters} == {"Ask the questions"}
    assert {len(matter.visits) for matter in matters} == {2}


def test_the_week_after_next_is_not_listed():
    visit_in(14)
    Form.objects.all().delete()
    assert mondays_list(TODAY) == []


def test_the_page_costs_the_same_for_thirty(as_assistant, as_bookkeeper, django_assert_num_queries):
    visit_in(10)
    Form.objects.update(valid_until=TODAY + timedelta(days=9))
    with django_assert_num_queries(QUERIES):
        page = as_assistant.get(reverse("clients:monday")).content.decode()
    assert "Ask to sign" in page
    for _ in range(29):
        visit_in(10)
    Form.objects.update(valid_until=TODAY + timedelta(days=9))
    with django_assert_num_queries(QUERIES):
        as_assistant.get(reverse("clients:monday"))
    assert as_bookkeeper.get(reverse("clients:monday")).status_code == 403
