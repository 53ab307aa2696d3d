from datetime import UTC, date, datetime, timedelta
from fractions import Fraction

import pytest

from clients.animals.models import Animal, HealthFact, Role
from clients.paperwork.facts import KINDS_OF_WORK, STOP_AND_ASK, WhoSigns, Work
from clients.paperwork.gathering import gather
from clients.paperwork.models import Form, PlaceLaw, Signature, Wording
from clients.paperwork.permission import permission_to_work
from clients.paperwork.queries import (
    lapsing_before,
    paperwork_on,
    permission_for_each,
    work_of,
)
from clients.plans.models import Goal, Service
from tests.factories.clients import (
    AnimalFactory,
    CautionFactory,
    FormFactory,
    HealthFactFactory,
    OwnershipFactory,
    PersonFactory,
    RoleFactory,
    ServiceFactory,
    WordingVersionFactory,
)
from tests.factories.paperwork import make_ready, ready_animal, referral_for, version_of
from tests.factories.plans import PlanFactory

DAY = date(2026, 3, 12)
FULL = Work("full", uses_machine=True)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _business(business):
    pass


def facts_of(animal, on=DAY):
    return gather([animal], on).facts_of(animal, FULL)


def codes(animal, on=DAY):
    return {reason.code for reason in permission_to_work(facts_of(animal, on)).reasons}


def test_a_new_horse_is_held_for_consent_and_asks_everything_else():
    animal = AnimalFactory()
    assert codes(animal) == {
        "no_consent",
        "law_unknown",
        "ask_epm",
        "ask_in_foal",
        "ask_slow_healing",
        "ask_dose_critical",
    }


def test_a_horse_with_its_paper_in_order_is_ready():
    animal = ready_animal()
    assert permission_for_each([(animal, work_of(ServiceFactory()))], on=DAY)[0].is_ready


def test_what_is_read_does_not_trust_what_the_row_remembers():
    animal = ready_animal()
    animal.barn.asks_release = True
    animal.barn.save()
    stale = Animal.objects.select_related("barn").get(pk=animal.pk)
    Animal.objects.filter(pk=animal.pk).update(died_on=DAY)
    assert codes(stale) == {"no_release", "died"}


def test_facts_take_the_same_number_of_queries_for_one_horse_and_for_thirty(django_assert_num_queries):
    one = [ready_animal()]
    thirty = one + [ready_animal() for _ in range(29)]
    for animal in thirty:
        referral_for(animal)
        CautionFactory(animal=animal)
    for animals in (one, thirty):
        with django_assert_num_queries(14):
            found = permission_for_each([(animal, FULL) for animal in animals], on=DAY)
        assert len(found) == len(animals)


def test_each_horse_of_a_round_has_its_own_work():
    spot_only = ready_animal()
    HealthFactFactory(animal=spot_only, state=HealthFact.State.YES, asked_on=DAY)
    referral_for(spot_only, service_kinds=["spot"])
    works = [(spot_only, Work("full", uses_machine=True)), (spot_only, Work("spot", uses_machine=True))]
    assert [permission.result for permission in permission_for_each(works, on=DAY)] == ["hold", "ready"]


def test_the_vets_places_and_the_owners_shares_and_the_rule_of_who_signs_are_read(business):
    business.who_signs = business.WhoSigns.MAJORITY
    business.save()
    animal = ready_animal()
    OwnershipFactory(animal=animal, numerator=2, denominator=3)
    referral_for(animal, places=["Withers"])
    facts = facts_of(animal)
    assert facts.rules.who_signs == WhoSigns.MAJORITY
    assert [owner.share for owner in facts.owners] == [Fraction(1), Fraction(2, 3)]
    assert facts.referrals[0].places == ("Withers",)


def test_the_work_of_a_plan_that_needs_the_vet_names_it():
    needing = PlanFactory(goal=Goal.ACUTE, title="After the vet's visit")
    assert work_of(needing.full_service, plan=needing).vet_first == "After the vet's visit"
    assert work_of(needing.full_service, plan=PlanFactory()).vet_first == ""


def test_the_latest_record_of_the_law_counts_for_machine_and_hand_apart():
    animal = ready_animal()
    law = {"place": "colorado", "source": "Invented letter", "recorded_on": date(2026, 2, 1)}
    PlaceLaw.objects.create(uses_machine=True, rule=PlaceLaw.Rule.VET_FIRST, **law)
    assert codes(animal) == {"law_vet_first"}
    assert permission_for_each([(animal, Work("other", uses_machine=False))], on=DAY)[0].is_ready


def test_the_latest_answer_of_each_question_counts():
    animal = ready_animal()
    HealthFactFactory(animal=animal, state=HealthFact.State.YES, asked_on=date(2026, 2, 1))
    assert codes(animal) == set()
    HealthFactFactory(animal=animal, state=HealthFact.State.YES, asked_on=date(2026, 3, 5))
    assert codes(animal) == {"stop_epm"}


def test_a_gelding_is_never_asked_about_a_foal():
    animal = ready_animal(sex=Animal.Sex.GELDING)
    animal.health_facts.filter(kind=HealthFact.Kind.IN_FOAL).delete()
    assert codes(animal) == set()


def test_a_sale_asks_the_new_owner_to_sign_and_a_change_of_shares_does_not():
    animal = ready_animal()
    share = animal.ownerships.get()
    share.until = date(2026, 3, 9)
    share.save()
    changed = OwnershipFactory(animal=animal, person=share.person, since=date(2026, 3, 10))
    assert codes(animal) == set()
    changed.delete()
    OwnershipFactory(animal=animal, since=date(2026, 3, 10))
    assert codes(animal) == {"signer_may_not", "owner_changed"}


def test_a_signature_counts_the_owners_of_the_day_it_was_made_in_local_time():
    animal = ready_animal()
    form = animal.forms.get()
    late = datetime(2026, 1, 2, 5, tzinfo=UTC)  # still 1 January in Denver
    Signature.objects.create(
        form=form, name_typed="x", capacity="owner", strokes=[], text="", text_sha256="", signed_at=late
    )
    assert facts_of(animal).consents[0].signed_on == date(2026, 1, 1)


@pytest.mark.parametrize(
    ("born_on", "flag", "too_young"),
    [
        (None, False, False),
        (None, True, True),
        (date(2008, 1, 1), False, False),  # 18 on the day of signing, 1 January 2026
        (date(2008, 1, 2), False, True),
        (date(1960, 2, 29), False, False),
    ],
)
def test_age_is_that_of_the_day_of_signing(born_on, flag, too_young):
    animal = ready_animal()
    owner = animal.ownerships.get().person
    owner.born_on, owner.under_age = born_on, flag
    owner.save()
    assert ("signer_under_age" in codes(animal)) == too_young


def test_a_newer_wording_matters_only_when_it_must_be_signed_again_and_is_out():
    animal = ready_animal()
    wording = version_of(Wording.Kind.CONSENT).wording
    WordingVersionFactory(wording=wording, number=2)
    assert codes(animal) == set()
    again = WordingVersionFactory(wording=wording, number=3, must_sign_again=True, published_on=DAY + timedelta(1))
    assert codes(animal) == set()
    again.published_on = DAY
    again.save()
    assert codes(animal) == {"sign_again"}


def test_an_authority_for_all_horses_of_an_owner_lets_the_agent_sign():
    animal = ready_animal()
    owner = animal.ownerships.get().person
    agent = RoleFactory(animal=animal, kind=Role.Kind.AGENT).person
    animal.forms.update(signer=agent)
    assert codes(animal) == {"signer_may_not"}
    authority = version_of(Wording.Kind.AUTHORITY)
    FormFactory(animal=None, signer=owner, agent=agent, wording_version=authority, signed=True)
    assert codes(animal) == set()


def test_a_release_is_for_the_barn_where_the_horse_stands():
    animal = ready_animal(barn__asks_release=True)
    owner = animal.ownerships.get().person
    form = FormFactory(
        signer=owner, animal=None, barn=None, wording_version=version_of(Wording.Kind.RELEASE), signed=True
    )
    assert codes(animal) == {"no_release"}
    form.barn = animal.barn
    form.save()
    assert codes(animal) == set()


def test_terms_are_asked_of_every_payer_once_there_are_any():
    animal = ready_animal()
    payer = RoleFactory(animal=animal, kind=Role.Kind.PAYER).person
    terms = version_of(Wording.Kind.TERMS)
    assert codes(animal) == {"no_terms"}
    FormFactory(animal=None, signer=payer, wording_version=terms, signed=True)
    assert codes(animal) == set()


def test_an_isolated_horse_at_the_barn_is_a_note_for_all_of_them_until_its_end():
    animal = ready_animal()
    AnimalFactory(name="Marigold", barn=animal.barn, isolation=Animal.Isolation.INFECTED, isolated_until=DAY)
    assert facts_of(animal).isolated_at_barn == ("Marigold",)
    assert facts_of(animal, DAY + timedelta(1)).isolated_at_barn == ()


def test_the_words_of_health_and_of_services_are_those_of_the_models():
    labels = {kind.value: kind.label for kind in HealthFact.Kind}
    assert {kind: labels[kind] for kind in STOP_AND_ASK} == dict(STOP_AND_ASK)
    assert set(KINDS_OF_WORK) == {kind.value for kind in Service.Kind}


# Lists


def test_a_form_is_lapsing_until_its_successor_is_signed():
    animal = ready_animal()
    form = animal.forms.get()
    form.valid_until = DAY + timedelta(9)
    form.save()
    assert lapsing_before(DAY + timedelta(14), on=DAY) == [form]
    assert lapsing_before(DAY + timedelta(9), on=DAY) == []
    FormFactory(animal=animal, signer=form.signer, wording_version=form.wording_version, signed=True)
    assert lapsing_before(DAY + timedelta(14), on=DAY) == []


def test_nothing_is_asked_for_a_horse_that_died():
    animal = ready_animal()
    FormFactory(animal=animal)
    referral_for(animal, answer="waiting", answered_on=None, until=None)
    animal.forms.filter(state=Form.State.SIGNED).update(valid_until=DAY + timedelta(1))
    desk = paperwork_on(DAY, notice_days=14)
    assert (len(desk.to_sign), len(desk.lapsing), len(desk.waiting)) == (1, 1, 1)
    Animal.objects.filter(pk=animal.pk).update(died_on=DAY)
    assert paperwork_on(DAY, notice_days=14).is_clear


def test_a_referral_that_ends_soon_is_on_the_desk():
    referral = referral_for(ready_animal(), until=DAY + timedelta(14))
    assert paperwork_on(DAY, notice_days=14).ending == [referral]
    assert paperwork_on(DAY, notice_days=13).ending == []


def test_a_minor_owners_guardian_may_have_signed():
    guardian = PersonFactory()
    animal = AnimalFactory()
    OwnershipFactory(animal=animal, person__under_age=True, person__guardian=guardian)
    form = make_ready(animal)
    assert codes(animal) == {"signer_under_age"}
    form.signer = guardian
    form.save()
    assert codes(animal) == set()
