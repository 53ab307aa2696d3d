import re
from datetime import date, time, timedelta

import pytest
import time_machine
from django.urls import reverse

from backoffice.links.models import PrivateLink
from billing.invoices.models import Invoice
from billing.quotes.models import Question, Quote
from clients.animals.models import HealthFact
from clients.paperwork.actions import add_starter_wordings
from clients.paperwork.models import StopNote
from clients.plans.actions import add_starter_guidelines
from clients.plans.models import Plan
from clients.rounds.models import DayRound
from tests.conftest import NOW, signed_in
from tests.factories.barnside import BarnEventFactory, HandMoneyFactory
from tests.factories.billing import finished_visit, issued_invoice, owned_horse, priced_service
from tests.factories.clients import AnimalFactory, FormFactory, HealthFactFactory, MachineFactory, PersonFactory
from tests.factories.kit import HireFactory
from tests.factories.paperwork import ready_animal, referral_for
from tests.factories.plans import PlanFactory
from tests.factories.quotes import drafted, offered
from tests.factories.visits import VisitFactory

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 2)
QUERIES = 56


@pytest.fixture(autouse=True)
def on_the_day(private_folder):
    with time_machine.travel(NOW, tick=False):
        yield


def page_of(client) -> str:
    answer = client.get(reverse("backoffice:today"))
    assert answer.status_code == 200
    return re.sub(r"\s+", " ", answer.content.decode())


def headings(page: str) -> list[str]:
    return re.findall(r'<h3 id="block-([a-z-]+)"', page)


def held_horse(**fields):
    """EPM is recorded and the vet was not asked."""
    animal = ready_animal(**fields)
    HealthFactFactory(animal=animal, kind=HealthFact.Kind.EPM, state=HealthFact.State.YES, asked_on=TODAY)
    return animal


def test_a_new_business_is_told_what_to_do_first(as_owner_manager, business):
    business.base_lat = business.base_lon = None
    business.save()
    page = page_of(as_owner_manager)
    steps = page[page.index("First steps") : page.index("</ol>")]
    for place in (
        "backoffice:business",
        "billing:prices-first",
        "clients:guidelines",
        "clients:enquiry-new",
        "billing:quote-new",
    ):
        assert reverse(place) in steps
    assert "Done" not in steps
    assert "Nothing else needs you." in page


def test_a_step_that_is_taken_is_marked_and_all_taken_are_gone(as_owner_manager, owner_manager):
    PersonFactory()
    assert page_of(as_owner_manager).count("Done") == 2
    add_starter_guidelines(at=NOW, by=owner_manager)
    add_starter_wordings(at=NOW, by=owner_manager)
    assert page_of(as_owner_manager).count("Done") == 4
    drafted([AnimalFactory()], owner_manager)
    assert "First steps" not in page_of(as_owner_manager)


def test_somebody_who_may_not_change_settings_has_only_their_own_left(as_assistant, as_bookkeeper):
    page = page_of(as_assistant)
    assert reverse("clients:enquiry-new") in page
    assert reverse("billing:prices") not in page
    theirs = page_of(as_bookkeeper)
    assert reverse("billing:quote-new") in theirs
    assert reverse("clients:enquiry-new") not in theirs


def test_an_unplanned_day_is_planned_with_one_button(as_owner_manager, owner_manager):
    visit = VisitFactory(booked=True, animal=ready_animal(name="Biscuit"), practitioner=owner_manager, day=TODAY)
    page = page_of(as_owner_manager)
    plan = reverse("clients:round-plan", args=["2026-03-02", owner_manager.pk])
    assert f'action="{plan}"' in page
    assert "Biscuit" in page
    as_owner_manager.post(plan)
    planned = page_of(as_owner_manager)
    assert DayRound.objects.count() == 1
    assert '<ol class="stops">' in planned
    assert visit.barn.name in planned
    assert plan not in planned


def test_a_round_that_the_diary_overtook_asks_to_be_planned_again(as_owner_manager, owner_manager):
    VisitFactory(booked=True, animal=ready_animal(), practitioner=owner_manager, day=TODAY)
    as_owner_manager.post(reverse("clients:round-plan", args=["2026-03-02", owner_manager.pk]))
    VisitFactory(booked=True, animal=ready_animal(), practitioner=owner_manager, day=TODAY, starts=time(14))
    page = page_of(as_owner_manager)
    assert "The diary changed since this round was planned." in page
    assert "Plan again" in page


def test_a_free_day_shows_the_next_with_visits(as_owner_manager, owner_manager):
    VisitFactory(animal=ready_animal(name="Oats"), practitioner=owner_manager, day=TODAY + timedelta(days=3))
    page = page_of(as_owner_manager)
    assert "No visit is in the diary for today." in page
    assert "Thu 5 Mar" in page
    assert "Oats" in page


def test_a_bookkeeper_sees_the_round_of_the_practitioner_without_reasons(
    as_bookkeeper, as_owner_manager, owner_manager
):
    VisitFactory(booked=True, animal=held_horse(), practitioner=owner_manager, day=TODAY)
    as_owner_manager.post(reverse("clients:round-plan", args=["2026-03-02", owner_manager.pk]))
    page = page_of(as_bookkeeper)
    assert f"Round of {owner_manager}" in page
    assert "EPM" not in page
    assert "EPM" in page_of(as_owner_manager)


def test_a_booked_horse_on_hold_is_named_with_its_reason_to_those_who_see_health(as_assistant, as_bookkeeper):
    VisitFactory(booked=True, animal=held_horse(name="Ember Day"), day=TODAY + timedelta(days=3))
    VisitFactory(booked=True, animal=ready_animal(name="Oats"), day=TODAY + timedelta(days=3))
    VisitFactory(booked=True, animal=held_horse(name="Later"), day=TODAY + timedelta(days=7))
    page = page_of(as_assistant)
    block = page[page.index('id="block-not-ready"') :]
    assert "Ember Day" in block
    assert "EPM" in block
    assert "Hold" in block
    assert "Oats" not in block
    assert "Later" not in block
    assert "not-ready" not in headings(page_of(as_bookkeeper))


def test_a_horse_booked_twice_is_named_once_by_its_hold(as_owner_manager):
    animal = held_horse(name="Ember Day")
    for days in (1, 2):
        VisitFactory(booked=True, animal=animal, day=TODAY + timedelta(days=days))
    page = page_of(as_owner_manager)
    block = page[page.index('id="block-not-ready"') : page.index('id="block-to-tell"')]
    assert block.count(">Ember Day<") == 1


def test_who_is_not_told_yet_that_we_come_tomorrow(as_assistant):
    person, tomorrow = PersonFactory(), TODAY + timedelta(days=1)
    VisitFactory(booked=True, animal=owned_horse(person), day=tomorrow)
    assert "Coming tomorrow, not told yet" in page_of(as_assistant)
    as_assistant.post(reverse("clients:tell-told", args=[tomorrow.isoformat(), person.pk]))
    assert "Coming tomorrow, not told yet" not in page_of(as_assistant)


def test_uncharged_work_presses_with_its_places_and_oldest_day(as_owner_manager, as_bookkeeper, as_assistant):
    horse, service = owned_horse(PersonFactory()), priced_service("95.00")
    finished_visit(horse, service, day=date(2026, 2, 24))
    finished_visit(horse, service, day=date(2026, 2, 26))
    for client in (as_owner_manager, as_bookkeeper):
        page = page_of(client)
        assert 'class="block pressing"' in page
        assert "The oldest of Tue 24 Feb." in page
        assert page.count(f"1 visit, {horse.barn}") == 2
    assert "not yet charged" not in page_of(as_assistant)


def test_overdue_invoices_show_what_is_open(as_bookkeeper, owner_manager):
    issued_invoice(PersonFactory(name="Imani Velloran"), owner_manager, "95.00")
    Invoice.objects.update(due_on=date(2026, 2, 20))
    page = page_of(as_bookkeeper)
    assert "1 invoice, the oldest due Fri 20 Feb." in page
    assert "Imani Velloran" in page
    assert "$95.00" in page


def test_a_quote_waits_and_says_whether_it_was_opened(as_owner_manager, owner_manager):
    quote, _ = offered([ready_animal()], owner_manager)
    assert f"{quote.title}, not opened yet" in page_of(as_owner_manager)
    PrivateLink.objects.update(first_opened_at=NOW, last_opened_at=NOW, times_opened=2)
    assert f"{quote.title}, opened twice, last Mon 2 Mar at 10:00" in page_of(as_owner_manager)
    with time_machine.travel(NOW + timedelta(days=60), tick=False):
        assert "quotes" not in headings(page_of(signed_in(owner_manager)))


def something_of_everything(place: int, owner_manager) -> None:
    """One row of each block."""
    day = TODAY + timedelta(days=place % 7)
    VisitFactory(booked=True, animal=held_horse(), practitioner=owner_manager, day=day, starts=time(8 + place % 9))
    VisitFactory(booked=True, animal=owned_horse(PersonFactory()), day=TODAY + timedelta(days=1), starts=time(8))
    VisitFactory(booked=True, practitioner=owner_manager, day=TODAY - timedelta(days=5))
    VisitFactory(completed=True, practitioner=owner_manager, day=TODAY - timedelta(days=8))
    finished_visit(owned_horse(PersonFactory()), priced_service(), day=TODAY - timedelta(days=1 + place))
    StopNote.objects.create(animal=AnimalFactory(), seen=f"Swollen. {place}", opened_at=NOW, opened_by=owner_manager)
    horse = AnimalFactory(event_on=TODAY + timedelta(days=4))
    referral_for(horse, answer="waiting", answered_on=None, since=None, until=None)
    FormFactory(animal=horse, signed=True, valid_until=TODAY + timedelta(days=9))
    HireFactory(machine=MachineFactory(inspection_due=TODAY), since=TODAY, until=TODAY + timedelta(days=2))
    PlanFactory(animal=horse, state=Plan.State.PROPOSED)
    PlanFactory(animal=horse, state=Plan.State.RUNNING, review_on=TODAY)
    BarnEventFactory(kind="done", state="open", why="Only a booked visit can be completed.", visit__animal=horse)
    HandMoneyFactory(event__person=owner_manager)
    Question.objects.create(quote=Quote.objects.get(), text=f"May we start a week later? {place}", asked_at=NOW)


EVERY_BLOCK = [
    "not-ready",
    "stopped",
    "from-barn",
    "unwritten",
    "uncharged",
    "barn-money",
    "overdue",
    "vet",
    "to-tell",
    "lapsing",
    "rule-books",
    "questions",
    "quotes",
    "plans",
    "reviews",
    "machines",
    "call-list",
]


def test_everything_is_there_in_order_and_costs_the_same_for_thirty(
    as_owner_manager, owner_manager, django_assert_num_queries
):
    offered([ready_animal()], owner_manager)
    issued_invoice(PersonFactory(), owner_manager)
    Invoice.objects.update(due_on=date(2026, 2, 20))
    something_of_everything(0, owner_manager)
    as_owner_manager.post(reverse("clients:round-plan", args=["2026-03-02", owner_manager.pk]))
    page_of(as_owner_manager)  # takes the message away, which writes the session
    with django_assert_num_queries(QUERIES):
        assert headings(page_of(as_owner_manager)) == EVERY_BLOCK
    for place in range(1, 30):
        something_of_everything(place, owner_manager)
    with django_assert_num_queries(QUERIES):
        page = page_of(as_owner_manager)
    assert headings(page) == EVERY_BLOCK
    assert page[page.index('id="block-vet"') : page.index('id="block-to-tell"')].count('<li class="matter">') == 3
    assert reverse("clients:calls") in page


@pytest.mark.parametrize("key", EVERY_BLOCK)
def test_each_block_has_a_page_of_its_own(key, as_owner_manager, owner_manager):
    address = reverse("backoffice:attention", args=[key])
    assert "Nothing here needs you now." in as_owner_manager.get(address).content.decode()


def test_a_block_is_refused_to_those_who_may_not_see_it_and_an_unknown_one_is_not_found(as_assistant, as_bookkeeper):
    assert as_assistant.get(reverse("backoffice:attention", args=["uncharged"])).status_code == 403
    assert as_bookkeeper.get(reverse("backoffice:attention", args=["not-ready"])).status_code == 403
    assert as_assistant.get(reverse("backoffice:attention", args=["nothing"])).status_code == 404


def test_all_of_a_block_stand_on_its_page(as_owner_manager):
    for place in range(7):
        animal = AnimalFactory(name=f"Show {place}", event_on=TODAY + timedelta(days=14))
    AnimalFactory(name="Read", event_on=TODAY, rules_read=True)
    AnimalFactory(name="Far", event_on=TODAY + timedelta(days=15))
    page = as_owner_manager.get(reverse("backoffice:attention", args=["rule-books"])).content.decode()
    assert page.count('<li class="matter">') == 7
    assert animal.name in page


def test_a_past_visit_not_written_up_leads_to_the_visit(as_assistant):
    visit = VisitFactory(booked=True, animal=ready_animal(), day=TODAY - timedelta(days=1))
    page = page_of(as_assistant)
    assert visit.get_absolute_url() in page[page.index('id="block-unwritten"') :]


def test_a_stranger_is_sent_to_sign_in(client, business):
    answer = client.get(reverse("backoffice:today"))
    assert answer.status_code == 302
    assert reverse("backoffice:sign-in") in answer["Location"]
