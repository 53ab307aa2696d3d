from datetime import date, timedelta

import pytest
from django.utils import timezone

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.paperwork.models import VetCall, Wording
from clients.paperwork.queries import is_quiet
from clients.paperwork.referring import answer_referral, note_call
from clients.paperwork.renewing import draft_renewals, remind_vet
from clients.paperwork.signing import withdraw_form
from tests.clients.paperwork.test_referring import result
from tests.factories.clients import BarnFactory, FormFactory, PersonFactory, WordingVersionFactory
from tests.factories.paperwork import ready_animal, referral_for, version_of, vet_word

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 2)


@pytest.fixture(autouse=True)
def _business(business):
    pass


def ending(days, kind=Wording.Kind.CONSENT, **about):
    """A signed form whose last day is so many days ahead."""
    animal = ready_animal()
    animal.forms.all().delete()
    about = {"animal": animal, "signer": animal.ownerships.get().person} | about
    until = TODAY + timedelta(days=days)
    return FormFactory(wording_version=version_of(kind), signed=True, valid_until=until, **about)


def test_a_form_that_ends_in_fourteen_days_is_made_anew_with_the_newest_wording_and_not_twice(now):
    old = ending(14)
    newest = WordingVersionFactory(wording=old.wording_version.wording, number=2)
    [form] = draft_renewals(at=now)
    assert (form.animal, form.signer, form.wording_version) == (old.animal, old.signer, newest)
    assert trail_of(form).get().action == "form asked for"
    assert draft_renewals(at=now) == []
    assert draft_renewals(at=now + timedelta(days=1)) == []


def test_a_form_that_ends_later_is_left_alone_for_now(now):
    ending(15)
    assert draft_renewals(at=now) == []
    assert len(draft_renewals(at=now + timedelta(days=1))) == 1


def test_a_renewal_that_was_taken_back_is_not_made_again(now, owner_manager):
    ending(10)
    [form] = draft_renewals(at=now)
    withdraw_form(form=form, at=now, by=owner_manager)
    assert draft_renewals(at=now + timedelta(days=1)) == []


def test_an_agents_authority_is_renewed_with_the_same_agent_and_cap(now):
    agent = PersonFactory()
    ending(5, Wording.Kind.AUTHORITY, agent=agent, cap_amount=300)
    [form] = draft_renewals(at=now)
    assert (form.agent, form.cap_amount) == (agent, 300)


@pytest.mark.parametrize(
    "prepare",
    [
        lambda form: form.animal.ownerships.update(until=TODAY - timedelta(days=1)),
        lambda form: type(form.animal).objects.update(died_on=TODAY),
        lambda form: type(form.signer).objects.update(under_age=True),
    ],
    ids=["sold", "died", "too young"],
)
def test_whoever_may_no_longer_sign_is_not_asked(prepare, now):
    prepare(ending(5))
    assert draft_renewals(at=now) == []


@pytest.mark.parametrize("kind", [Wording.Kind.HIRE, Wording.Kind.PACKAGE])
def test_what_ends_with_a_hire_or_a_package_is_not_renewed(kind, now):
    ending(5, kind)
    assert draft_renewals(at=now) == []


def test_a_wording_for_another_place_keeps_the_others_from_nothing(now):
    elsewhere = ending(5)
    elsewhere.wording_version.wording.versions.update(place="Wyoming")
    ending(5, Wording.Kind.RELEASE, barn=BarnFactory())
    assert [form.wording_version.wording.kind for form in draft_renewals(at=now)] == ["release"]


# The vet


@pytest.fixture
def asked():
    """A mare in foal whose vet was asked five days ago."""
    animal = ready_animal(name="Marigold")
    animal.health_facts.filter(kind="in_foal").update(state="yes")
    fields = {"answered_on": None, "since": None, "until": None, "asked_on": TODAY - timedelta(days=5)}
    return referral_for(animal, answer="waiting", **fields)


def test_an_unanswered_vet_is_reminded_after_five_days_and_again_after_five_more(asked, now, owner_manager):
    assert not is_quiet(asked, TODAY - timedelta(days=1))
    assert is_quiet(asked, TODAY)
    token = remind_vet(referral=asked, at=now, by=owner_manager)
    asked.refresh_from_db()
    assert token
    assert asked.reminded_on == TODAY
    assert not is_quiet(asked, TODAY + timedelta(days=4))
    assert is_quiet(asked, TODAY + timedelta(days=5))
    assert trail_of(asked).first().action == "vet reminded"


def test_a_vet_who_answered_is_not_reminded(asked, now, owner_manager):
    answer_referral(referral=asked, word=vet_word(), at=now)
    with pytest.raises(Refused, match="already answered"):
        remind_vet(referral=asked, at=now, by=owner_manager)
    asked.refresh_from_db()
    assert not is_quiet(asked, TODAY + timedelta(days=30))


def test_a_yes_on_the_telephone_is_a_note_and_lifts_nothing(asked, now, owner_manager):
    call = note_call(referral=asked, vet_name=" Dr. Lindqvist ", said=" She may. ", at=now, by=owner_manager)
    assert (call.vet_name, call.said, call.heard_by) == ("Dr. Lindqvist", "She may.", owner_manager)
    assert result(asked.animal) == "hold"
    entry = trail_of(asked).first()
    assert (entry.action, "She may" in str(entry.changes)) == ("vet's call noted", False)


def test_a_no_on_the_telephone_holds_at_once_until_a_later_written_yes(now, owner_manager):
    animal = ready_animal()
    referral = referral_for(animal)
    assert result(animal) == "ready"
    later = now + timedelta(days=1)
    note_call(referral=referral, vet_name="Dr. Lindqvist", said="Not now.", says_no=True, at=later, by=owner_manager)
    assert result(animal, on=timezone.localdate(now)) == "ready"
    assert result(animal, on=timezone.localdate(later)) == "hold"
    referral_for(animal, answered_on=timezone.localdate(later))
    assert result(animal, on=timezone.localdate(later)) == "ready"


@pytest.mark.parametrize("words", [{"vet_name": " ", "said": "No."}, {"vet_name": "Dr. L.", "said": " "}])
def test_a_call_without_who_or_what_is_refused(words, asked, now, owner_manager):
    with pytest.raises(Refused, match="who spoke and what was said"):
        note_call(referral=asked, **words, at=now, by=owner_manager)
    assert not VetCall.objects.exists()
