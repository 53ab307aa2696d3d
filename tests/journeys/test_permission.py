"""Permission to work as three people meet it: an owner on a phone, a vet, an assistant."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone

from backoffice.access.models import User
from backoffice.access.powers import Role
from clients.animals.models import Animal, HealthFact
from clients.paperwork.models import Form, Wording
from clients.visits.models import Visit
from tests.factories.backoffice import UserFactory
from tests.factories.clients import FormFactory, HealthFactFactory, OwnershipFactory, VetPracticeFactory
from tests.factories.paperwork import ready_animal, version_of
from tests.factories.visits import VisitFactory
from tests.journeys.conftest import PASSWORD
from tests.journeys.walk import Walk

pytestmark = [pytest.mark.browser, pytest.mark.parametrize("size", ["phone"], indirect=True)]

VET = "Dr. Ada Lindqvist"


def sign_in(walk: Walk, username: str) -> None:
    walk.open("/")
    walk.write(username=username, password=PASSWORD)
    walk.press("Sign in")


def horse_with(kind: HealthFact.Kind | None = None) -> Animal:
    """In order but for one answer of the intake: yes, asked today."""
    today = timezone.localdate()
    practice = VetPracticeFactory(name="South Divide Veterinary", vet_name=VET)
    animal = ready_animal(asked_on=today - timedelta(days=1), name="Ember Day", vet_practice=practice)
    owner = animal.ownerships.get().person
    FormFactory(animal=animal, signer=owner, wording_version=version_of(Wording.Kind.TERMS), signed=True)
    if kind is not None:
        HealthFactFactory(animal=animal, kind=kind, state=HealthFact.State.YES, asked_on=today)
    return animal


def private_link(walk: Walk, kind: str) -> str:
    found = re.search(rf"http\S+/p/{kind}/\S+", walk.text())
    assert found is not None
    return found.group()


def ask_for_visit(walk: Walk, animal: Animal, minutes: int) -> None:
    day = timezone.localdate() + timedelta(days=2)
    walk.open(f"{animal.get_absolute_url()}")
    walk.press("New visit")
    walk.write(service="Full body", day=day.isoformat(), starts="10:00", minutes=str(minutes))
    walk.press("Save visit")


def test_a_vet_limits_the_work_on_a_private_page_and_the_booking_follows(practice: User, new_walk: Callable[[], Walk]):
    animal = horse_with(HealthFact.Kind.INJURY)
    desk, vet = new_walk(), new_walk()
    sign_in(desk, practice.username)
    desk.open(animal.get_absolute_url())
    desk.says("Hold", "Fresh injury or illness: yes")
    desk.press("Ask the vet")
    desk.write(asked="May Ember Day have sessions?")
    desk.look("70-ask-the-vet")
    desk.press("Make the request")
    desk.look("71-link-for-the-vet")
    vet.open(private_link(desk, "vet"))
    today = timezone.localdate()
    vet.page.get_by_role("radio", name="Yes, with conditions").check()
    vet.write(conditions="Short, and not near the near fore.", max_minutes="30")
    vet.write(since=today.isoformat(), until=(today + timedelta(days=30)).isoformat())
    vet.write(registration_number="CO-4471", examined_on=today.isoformat(), is_vet=True)
    vet.look("72-vet-answers")
    vet.press("Give this answer")
    vet.says("This answer is kept and we follow it.")
    vet.look("73-vet-answered")
    ask_for_visit(desk, animal, minutes=60)
    desk.says("allows 30 minutes and 60 are planned")
    desk.look("74-too-long-for-the-vet")
    ask_for_visit(desk, animal, minutes=30)
    desk.says("Booked")
    assert Visit.objects.get().minutes == 30
    assert [fault for fault in desk.faults if "422" not in fault] == []
    assert vet.faults == []


def test_an_assistant_cannot_book_a_mare_in_foal_and_sees_whom_to_ask(practice: User, new_walk: Callable[[], Walk]):
    mare = horse_with(HealthFact.Kind.IN_FOAL)
    assistant = UserFactory(username="juniper", role=Role.ASSISTANT)
    assistant.set_password(PASSWORD)
    assistant.save()
    walk = new_walk()
    sign_in(walk, "juniper")
    ask_for_visit(walk, mare, minutes=60)
    walk.says("In foal, or covered since: yes", "ask the horse's vet")
    walk.look("75-mare-in-foal")
    walk.open(mare.get_absolute_url())
    walk.says("Hold", "The horse's vet", "Ask the vet")
    assert not Visit.objects.exists()
    assert [fault for fault in walk.faults if "422" not in fault] == []


def test_a_consent_that_ends_in_nine_days_is_on_mondays_list_and_one_tap_asks(
    practice: User, new_walk: Callable[[], Walk]
):
    animal = horse_with()
    day = timezone.localdate() + timedelta(days=3)
    VisitFactory(animal=animal, day=day)
    Form.objects.filter(animal=animal, wording_version__wording__kind=Wording.Kind.CONSENT).update(
        valid_until=timezone.localdate() + timedelta(days=9)
    )
    walk = new_walk()
    sign_in(walk, practice.username)
    walk.open("/paperwork/")
    walk.press("Monday’s list")
    walk.says("Ember Day", "The consent ends on")
    walk.look("79-mondays-list")
    walk.press("Ask to sign")
    walk.look("80-ask-before-it-ends")
    walk.press("Make the form")
    walk.says("has a form to sign")
    assert Form.objects.filter(animal=animal, state=Form.State.TO_SIGN).count() == 1
    assert walk.faults == []


def test_an_owner_signs_by_link_on_a_phone(practice: User, new_walk: Callable[[], Walk]):
    owner = OwnershipFactory(animal__name="Biscuit", person__name="Ottilie Brackwater")
    form = FormFactory(animal=owner.animal, signer=owner.person, wording_version=version_of(Wording.Kind.CONSENT))
    desk, phone = new_walk(), new_walk()
    sign_in(desk, practice.username)
    desk.open(form.get_absolute_url())
    desk.press("Make a private link")
    desk.look("76-link-for-the-owner")
    phone.open(private_link(desk, "form"))
    phone.write(electronic=True, name_typed="Ottilie Brackwater")
    phone.look("77-owner-reads")
    phone.sign()
    phone.press("Sign")
    phone.look("78-owner-signed")
    with phone.paper():
        phone.click("copy")
    desk.open(owner.animal.get_absolute_url())
    desk.says("Signed")
    assert [*desk.faults, *phone.faults] == []
