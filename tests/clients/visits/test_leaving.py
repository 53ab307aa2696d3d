"""Sold and died: one action each, and nothing that was promised for the horse is forgotten."""

from datetime import date, time, timedelta

import pytest
import time_machine

from backoffice.audit.queries import trail_of
from backoffice.links.actions import issue_link
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from clients.animals.models import Animal, Ownership, Role
from clients.paperwork.models import Form
from clients.paperwork.queries import permission_for_each, work_of
from clients.people.models import Person
from clients.plans.models import Plan
from clients.visits.actions import book_visit, note_death, note_sale, take_death_back
from clients.visits.calls import call_list
from clients.visits.models import ArrivalLook, Visit
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, FormFactory, OwnershipFactory, PersonFactory, RoleFactory
from tests.factories.paperwork import ready_animal, referral_for, version_of
from tests.factories.visits import MONDAY, VisitFactory, ready_visit, running_plan

pytestmark = pytest.mark.django_db
BEFORE = MONDAY - timedelta(days=1)


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def horse():
    return ready_animal(name="Tinker's Rest")


def sell(horse, now, owner_manager, buyer=None, on=MONDAY):
    return note_sale(animal=horse, buyer=buyer or PersonFactory(name="Orla Finch"), on=on, at=now, by=owner_manager)


def die(horse, now, owner_manager, on=MONDAY):
    return note_death(animal=horse, on=on, at=now, by=owner_manager)


LEAVING = pytest.mark.parametrize("leave", [sell, die])


@LEAVING
@pytest.mark.parametrize("state", [Plan.State.PROPOSED, Plan.State.RUNNING, Plan.State.PAUSED])
def test_its_plans_stop(leave, state, now, owner_manager):
    plan = running_plan(state=state)
    leave(plan.animal, now, owner_manager)
    plan.refresh_from_db()
    assert plan.state == Plan.State.STOPPED


@LEAVING
def test_visits_ahead_are_released_without_a_fee_however_short_the_notice(leave, now, owner_manager):
    booked = book_visit(visit=ready_visit(), starts=time(23, 0), at=now, by=None, outside_hours_reason="A late train.")
    pencilled = VisitFactory(animal=booked.animal, day=date(2026, 3, 9))
    leave(booked.animal, now, owner_manager)
    for visit in (booked, pencilled):
        visit.refresh_from_db()
        assert (visit.status, visit.is_late_cancel) == (Visit.Status.CANCELLED, False)
        assert "Mon 2 Mar 2026" in visit.cancel_reason


@LEAVING
def test_work_that_began_that_day_stays_to_be_written_up(leave, horse, now, owner_manager):
    begun = VisitFactory(animal=horse, booked=True)
    look = dict.fromkeys(("no_stop_sign", "is_dry", "moves_soundly", "handler_present", "electronics_away"), True)
    ArrivalLook.objects.create(visit=begun, looked_at=now, **look)
    leave(horse, now, owner_manager)
    begun.refresh_from_db()
    assert begun.status == Visit.Status.BOOKED


def test_a_sale_noted_late_leaves_the_visits_of_days_gone_by_to_be_written_up(horse, now, owner_manager):
    yesterday = VisitFactory(animal=horse, booked=True, day=BEFORE)
    sell(horse, now, owner_manager, on=BEFORE)
    yesterday.refresh_from_db()
    assert yesterday.status == Visit.Status.BOOKED


def test_a_death_noted_late_releases_what_lay_after_it(horse, now, owner_manager):
    yesterday = VisitFactory(animal=horse, booked=True, day=BEFORE)
    die(horse, now, owner_manager, on=BEFORE - timedelta(days=1))
    yesterday.refresh_from_db()
    assert (yesterday.status, yesterday.is_late_cancel) == (Visit.Status.CANCELLED, False)


@LEAVING
def test_forms_to_sign_are_withdrawn_and_every_link_closes(leave, horse, now, owner_manager):
    waiting = FormFactory(animal=horse, wording_version=version_of("photos"))
    signed = Form.objects.get(animal=horse, state=Form.State.SIGNED)
    referral = referral_for(horse)
    targets = [(PrivateLink.Purpose.FORM, waiting), (PrivateLink.Purpose.FORM, signed)]
    targets.append((PrivateLink.Purpose.REFERRAL, referral))
    for purpose, target in targets:
        issue_link(purpose=purpose, target=target, at=now, valid_for=timedelta(days=30), by=owner_manager)
    leave(horse, now, owner_manager)
    waiting.refresh_from_db()
    signed.refresh_from_db()
    assert (waiting.state, signed.state) == (Form.State.WITHDRAWN, Form.State.SIGNED)
    assert not PrivateLink.objects.filter(revoked_at__isnull=True).exists()


@LEAVING
def test_other_horses_keep_theirs(leave, horse, now, owner_manager):
    plan = running_plan()
    visit = VisitFactory(animal=plan.animal, day=date(2026, 3, 9))
    leave(horse, now, owner_manager)
    plan.refresh_from_db()
    visit.refresh_from_db()
    assert (plan.state, visit.status) == (Plan.State.RUNNING, Visit.Status.PENCILLED)


@LEAVING
def test_the_day_may_not_be_still_to_come(leave, horse, now, owner_manager):
    with pytest.raises(Refused, match="when it has happened"):
        leave(horse, now, owner_manager, on=MONDAY + timedelta(days=1))


@LEAVING
def test_a_dead_horse_does_neither(leave, horse, now, owner_manager):
    die(horse, now, owner_manager)
    with pytest.raises(Refused, match=r"died on Mon 2 Mar 2026\."):
        leave(horse, now, owner_manager)


# Sold


def test_the_buyer_owns_the_horse_and_earlier_owners_stay_readable(now, owner_manager):
    animal = AnimalFactory()
    two = [OwnershipFactory(animal=animal, denominator=2, position=n, since=date(2025, 1, 1)) for n in (0, 1)]
    buyer = PersonFactory()
    sell(animal, now, owner_manager, buyer)
    assert [each.person for each in Ownership.objects.on(MONDAY).filter(animal=animal)] == [buyer]
    before = Ownership.objects.on(BEFORE).filter(animal=animal)
    assert [each.person for each in before] == [each.person for each in two]
    assert trail_of(animal).first().action == "horse sold"


def test_one_of_two_owners_may_buy_the_other_out(now, owner_manager):
    animal = AnimalFactory()
    buyer = OwnershipFactory(animal=animal, denominator=2, since=date(2025, 1, 1)).person
    OwnershipFactory(animal=animal, denominator=2, position=1, since=date(2025, 1, 1))
    sell(animal, now, owner_manager, buyer)
    assert [each.person for each in Ownership.objects.on(MONDAY).filter(animal=animal)] == [buyer]


def test_its_only_owner_cannot_buy_it(horse, now, owner_manager):
    with pytest.raises(Refused, match="already belongs to"):
        sell(horse, now, owner_manager, horse.ownerships.get().person)


def test_a_new_buyer_is_written_down(horse, now, owner_manager):
    sell(horse, now, owner_manager, Person(name="Orla Finch", phone="+1 303 555 0142"))
    assert Person.objects.get(name="Orla Finch").ownerships.get().animal == horse


def test_nothing_is_worked_before_the_buyer_has_signed(horse, now, owner_manager):
    work = work_of(ready_visit(animal=horse).service)
    assert permission_for_each([(horse, work)], on=MONDAY)[0].is_ready
    sell(horse, now, owner_manager)
    permission = permission_for_each([(Animal.objects.get(pk=horse.pk), work)], on=MONDAY)[0]
    assert permission.is_hold
    assert "owner_changed" in {reason.code for reason in permission.reasons}


def test_who_paid_and_ordered_is_given_back_and_the_handler_stays(horse, now, owner_manager):
    for kind in Role.Kind:
        RoleFactory(animal=horse, kind=kind, since=date(2025, 1, 1))
    sell(horse, now, owner_manager)
    assert [role.kind for role in Role.objects.on(MONDAY).filter(animal=horse)] == [Role.Kind.HANDLER]


def test_a_handler_who_owned_the_horse_goes_with_it(horse, now, owner_manager):
    RoleFactory(animal=horse, kind=Role.Kind.HANDLER, person=horse.ownerships.get().person, since=date(2025, 1, 1))
    sell(horse, now, owner_manager)
    assert not Role.objects.on(MONDAY).filter(animal=horse).exists()


# Died


def test_nothing_is_worked_and_nobody_is_called_about_a_horse_that_died(horse, now, owner_manager):
    visit = VisitFactory(animal=horse, completed=True, day=BEFORE)
    assert visit in call_list(MONDAY)
    die(horse, now, owner_manager)
    horse.refresh_from_db()
    assert horse.died_on == MONDAY
    assert visit not in call_list(MONDAY)
    assert permission_for_each([(horse, work_of(visit.service))], on=MONDAY)[0].is_hold


def test_it_did_not_die_before_it_was_born(now, owner_manager):
    with pytest.raises(Refused, match="before its birth year, 2015"):
        die(AnimalFactory(birth_year=2015), now, owner_manager, on=date(2014, 5, 1))


def test_a_death_noted_by_mistake_is_taken_back_and_plans_stay_stopped(now, owner_manager):
    plan = running_plan()
    die(plan.animal, now, owner_manager)
    take_death_back(animal=plan.animal, at=now, by=owner_manager)
    plan.refresh_from_db()
    plan.animal.refresh_from_db()
    assert (plan.animal.died_on, plan.state) == (None, Plan.State.STOPPED)


def test_a_living_horse_has_no_death_to_take_back(horse, now, owner_manager):
    with pytest.raises(Refused, match="not noted as dead"):
        take_death_back(animal=horse, at=now, by=owner_manager)


# The pages


@pytest.mark.parametrize("page", ["sold", "died"])
def test_the_page_shows_what_is_still_to_come(page, as_assistant, horse):
    VisitFactory(animal=horse, day=date(2026, 3, 9), practitioner=UserFactory())
    text = as_assistant.get(f"/horses/{horse.pk}/{page}/").content.decode()
    assert "Mon 9 Mar" in text
    assert "visit, released" in text


def test_a_sale_to_somebody_known_or_new(as_assistant, horse):
    new = {"on": "2026-03-02", "name": "Orla Finch", "phone": "+1 303 555 0142"}
    response = as_assistant.post(f"/horses/{horse.pk}/sold/", new, follow=True)
    assert "belongs to Orla Finch now. Nothing was planned. Next: ask Orla Finch to sign." in response.content.decode()
    known = {"on": "2026-03-02", "buyer": PersonFactory(name="Ruth Alder").pk}
    assert as_assistant.post(f"/horses/{horse.pk}/sold/", known).status_code == 302
    assert [str(each.person) for each in Ownership.objects.on(MONDAY).filter(animal=horse)] == ["Ruth Alder"]


@pytest.mark.parametrize(
    ("page", "posted", "sentence"),
    [
        ("sold", {}, "Choose the new owner, or write a name below."),
        ("sold", {"name": "Desmond Quarrie"}, "Desmond Quarrie is written down already: choose them here."),
        ("sold", {"name": "Orla Finch", "on": "2026-03-03"}, "This day is still to come."),
        ("sold", {"name": "Orla Finch", "email": "at home"}, "email"),
        ("died", {"on": "2026-03-03"}, "This day is still to come."),
        ("died", {"on": "2001-03-03"}, "This is before its birth year, 2015."),
    ],
)
def test_what_cannot_be_gets_a_sentence_and_changes_nothing(as_assistant, page, posted, sentence):
    PersonFactory(name="Desmond Quarrie")
    horse = ready_animal(birth_year=2015)
    response = as_assistant.post(f"/horses/{horse.pk}/{page}/", {"on": "2026-03-02", **posted})
    assert response.status_code == 422
    assert sentence in response.content.decode()
    horse.refresh_from_db()
    assert (horse.died_on, horse.ownerships.count()) == (None, 1)


def test_both_a_known_and_a_new_buyer_is_one_too_many(as_assistant, horse):
    both = {"on": "2026-03-02", "name": "Orla Finch", "buyer": PersonFactory().pk}
    response = as_assistant.post(f"/horses/{horse.pk}/sold/", both)
    assert "not both" in response.content.decode()


def test_a_death_and_its_taking_back_from_the_page_of_the_horse(as_assistant, horse):
    text = as_assistant.post(f"/horses/{horse.pk}/died/", {"on": "2026-03-02"}, follow=True).content.decode()
    assert "Noted by mistake?" in text
    assert "/visits/new/" not in text
    text = as_assistant.post(f"/horses/{horse.pk}/lives/", follow=True).content.decode()
    assert f"/horses/{horse.pk}/died/" in text


@pytest.mark.parametrize("page", ["sold", "died", "lives"])
def test_who_may_not_change_care_may_not(page, client, as_bookkeeper, horse):
    assert client.post(f"/horses/{horse.pk}/{page}/").status_code == 302
    assert as_bookkeeper.post(f"/horses/{horse.pk}/{page}/").status_code == 403
