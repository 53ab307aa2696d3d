from datetime import date
from decimal import Decimal

import pytest

from backoffice.access.powers import Role as Account
from backoffice.audit.queries import breaks_in_chain, trail_of
from backoffice.refusal import Refused
from clients.animals.models import HealthFact
from clients.paperwork.actions import (
    add_starter_wordings,
    add_wording,
    close_stop_note,
    decide,
    note_decision,
    open_stop_note,
    publish_wording_version,
    record_law,
)
from clients.paperwork.facts import MachineFacts, Spending
from clients.paperwork.models import Decision, Form, PlaceLaw, StopNote, Wording
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, FormFactory, HealthFactFactory, RoleFactory, ServiceFactory
from tests.factories.paperwork import ready_animal, referral_for, version_of

pytestmark = pytest.mark.django_db
DAY = date(2026, 3, 12)


@pytest.fixture
def animal(business):
    return ready_animal(name="Biscuit")


@pytest.fixture
def go(animal, now, owner_manager):
    """Ask at a door."""

    def go(**changes):
        given = {"animal": animal, "door": "booking", "on": DAY, "service": ServiceFactory(), "by": owner_manager}
        return decide(at=now, **{**given, **changes})

    return go


def unask(animal):
    animal.health_facts.filter(kind=HealthFact.Kind.EPM).delete()


def test_ready_is_stored_with_all_its_facts_and_an_entry(go, animal, owner_manager):
    decision = go()
    assert (decision.result, decision.for_day, decision.decided_by) == ("ready", DAY, owner_manager)
    assert decision.facts["consents"][0]["signer_name"] == animal.forms.get().signer.name
    assert decision.facts["law"]["rule"] == "free"
    assert decision.facts["work"]["minutes"] == 60
    entry = trail_of(decision).get()
    assert entry.action == "permission decided"
    assert entry.changes["result"] == "ready"
    assert list(breaks_in_chain()) == []


def test_hold_is_refused_with_every_reason_in_the_sentence_and_nothing_is_stored(go, animal):
    animal.forms.all().delete()
    HealthFactFactory(animal=animal, kind=HealthFact.Kind.IN_FOAL, state=HealthFact.State.YES)
    with pytest.raises(Refused) as refused:
        go(override_reason="The owner says it is fine.")
    assert "In foal, or covered since: yes" in refused.value.sentence
    assert "No consent is signed for Biscuit." in refused.value.sentence
    assert not Decision.objects.exists()


def test_ask_needs_a_reason(go, animal):
    unask(animal)
    with pytest.raises(Refused, match="EPM, now or in the past: not asked.* write the reason"):
        go()
    with pytest.raises(Refused, match="write the reason"):
        go(override_reason="   ")


def test_ask_is_overridden_with_a_reason_and_a_name(go, animal, owner_manager):
    unask(animal)
    decision = go(override_reason=" Owner answers tonight. ")
    assert (decision.result, decision.override_reason) == ("ask", "Owner answers tonight.")
    assert decision.decided_by == owner_manager
    assert decision.reasons[0]["code"] == "ask_epm"
    entry = trail_of(decision).get()
    assert entry.changes["overridden"] is True
    assert "tonight" not in str(entry.changes)


def test_ask_is_not_overridden_by_an_assistant_or_by_nobody(go, animal, assistant):
    unask(animal)
    for by in (assistant, None):
        with pytest.raises(Refused, match="Only a practitioner"):
            go(override_reason="Owner answers tonight.", by=by)
    assert go(override_reason="Yes.", by=UserFactory(role=Account.PRACTITIONER)).result == "ask"


def test_a_reason_of_five_megabytes_is_refused(go, animal):
    unask(animal)
    with pytest.raises(Refused, match="longer than 500"):
        go(override_reason="x" * 5_000_000)


def test_a_ready_horse_keeps_no_override(go):
    assert go(override_reason="Just in case.").override_reason == ""


def test_the_barns_door_asks_until_somebody_looked_the_horse_over(go):
    with pytest.raises(Refused, match="look-over is not written down"):
        go(door="barn")
    with pytest.raises(Refused, match="A stop sign was seen"):
        go(door="barn", stop_sign_seen=True)
    assert go(door="barn", stop_sign_seen=False).result == "ready"


def test_the_vets_minutes_are_compared_with_those_of_this_visit(go, animal):
    referral_for(animal, max_minutes=20)
    with pytest.raises(Refused, match="allows 20 minutes and 60 are planned"):
        go()
    assert go(minutes=20).result == "ready"


def test_a_hire_is_held_for_a_stop_and_ask_horse_even_with_the_vets_yes(go, animal):
    HealthFactFactory(animal=animal, state=HealthFact.State.YES)
    referral_for(animal)
    assert go().result == "ready"
    with pytest.raises(Refused, match="never hired out"):
        go(door="hire")


def test_a_machine_out_on_hire_is_held(go):
    with pytest.raises(Refused, match="Unit two is out on hire"):
        go(machine=MachineFacts("Unit two", is_on_hire=True))


def test_what_a_trainer_orders_is_compared_with_the_cap(go, animal):
    agent = RoleFactory(animal=animal).person
    owner = animal.ownerships.get().person
    authority = version_of("authority")
    FormFactory(animal=None, signer=owner, agent=agent, cap_amount=Decimal(300), wording_version=authority, signed=True)
    with pytest.raises(Refused, match="what is spent this month is not known"):
        go(ordered_by=agent)
    with pytest.raises(Refused, match="USD 300.00 a month; with this it would be USD 305.00"):
        go(ordered_by=agent, spending=Spending(Decimal(210), Decimal(95), "USD"))
    assert go(ordered_by=agent, spending=Spending(Decimal(205), Decimal(95), "USD")).result == "ready"
    assert go(ordered_by=owner).result == "ready"


def test_a_door_that_refuses_nobody_stores_a_hold(animal, now):
    animal.forms.all().delete()
    decision = note_decision(animal=animal, door="quote", on=DAY, service=ServiceFactory(), at=now, by=None)
    assert (decision.result, decision.reasons[0]["code"]) == ("hold", "no_consent")


def test_a_stored_decision_stays_as_it_was_when_the_facts_change(go, animal):
    decision = go()
    before = decision.facts
    animal.name = "Renamed"
    animal.save()
    animal.forms.update(valid_until=date(2026, 3, 1))
    decision.refresh_from_db()
    assert decision.facts == before


# Stop notes


def test_a_stop_note_holds_until_it_is_closed_with_what_the_vet_said(go, animal, now, owner_manager):
    note = open_stop_note(animal=animal, seen="Left hind swollen.", at=now, by=owner_manager)
    with pytest.raises(Refused, match="the stop note is open"):
        go()
    with pytest.raises(Refused, match="Write what the vet said"):
        close_stop_note(note=note, vet_said="  ", at=now, by=owner_manager)
    closed = close_stop_note(note=note, vet_said="Dr. Lindqvist: fine from today.", at=now, by=owner_manager)
    assert (closed.closed_by, closed.closed_at) == (owner_manager, now)
    assert go().result == "ready"
    with pytest.raises(Refused, match="already closed"):
        close_stop_note(note=note, vet_said="Again.", at=now, by=owner_manager)
    assert [entry.action for entry in trail_of(note)] == ["stop note closed", "stop note opened"]


def test_a_stop_note_says_what_was_seen(animal, now, owner_manager):
    with pytest.raises(Refused, match="what was seen"):
        open_stop_note(animal=animal, seen="", at=now, by=owner_manager)
    assert not StopNote.objects.exists()


# Wordings and law


def test_publishing_keeps_signed_forms_and_moves_those_not_yet_signed(business, now, owner_manager):
    old = version_of(Wording.Kind.CONSENT)
    signed, waiting = FormFactory(wording_version=old, signed=True), FormFactory(wording_version=old)
    version = publish_wording_version(
        wording=old.wording, text="New text.", must_sign_again=True, valid_months=6, at=now, by=owner_manager
    )
    assert (version.number, version.published_on, version.is_starter) == (2, date(2026, 3, 2), False)
    assert Form.objects.get(pk=signed.pk).wording_version == old
    assert Form.objects.get(pk=waiting.pk).wording_version == version


@pytest.mark.parametrize(
    ("text", "match"),
    [
        ("  ", "no text"),
        ("x" * 20_001, "longer than 20,000"),
        ("I, {owner}, and {dog}.", r"\{dog\} is not a field"),
        ("{horse.__class__}", "is not a field"),
        ("I agree to sessions for {horse}.", "same as that of the version in use"),
    ],
)
def test_a_text_that_cannot_be_a_wording_is_refused(business, now, owner_manager, text, match):
    wording = version_of(Wording.Kind.CONSENT).wording
    with pytest.raises(Refused, match=match):
        publish_wording_version(
            wording=wording, text=text, must_sign_again=False, valid_months=12, at=now, by=owner_manager
        )


def test_two_wordings_of_a_kind_with_one_title_are_refused(business, now, owner_manager):
    wording = version_of(Wording.Kind.CONSENT).wording
    with pytest.raises(Refused, match="already there"):
        add_wording(
            kind=wording.kind, title=wording.title.upper(), text="A.", valid_months=12, at=now, by=owner_manager
        )


def test_starting_texts_are_marked_and_added_once(business, now, owner_manager):
    version_of(Wording.Kind.PHOTOS)
    added = add_starter_wordings(at=now, by=owner_manager)
    assert [version.wording.kind for version in added] == [
        "consent",
        "release",
        "authority",
        "terms",
        "hire",
        "package",
        "vet",
    ]
    assert all(version.is_starter for version in added)
    assert add_starter_wordings(at=now, by=owner_manager) == []


def test_the_law_is_recorded_with_place_and_source_and_earlier_records_stay(business, now, owner_manager):
    for rule in ("unknown", "free"):
        record_law(place="Colorado", uses_machine=True, rule=rule, source="Letter", at=now, by=owner_manager)
    assert PlaceLaw.objects.count() == 2
    with pytest.raises(Refused, match="state or country"):
        record_law(place=" ", uses_machine=True, rule="free", source="Letter", at=now, by=owner_manager)
    with pytest.raises(Refused, match="source"):
        record_law(place="Utah", uses_machine=True, rule="free", source=" ", at=now, by=owner_manager)


def test_a_decision_can_be_made_about_a_horse_with_nothing_on_file(business, now):
    assert (
        note_decision(animal=AnimalFactory(), door="quote", on=DAY, service=ServiceFactory(), at=now, by=None).facts[
            "owners"
        ]
        == []
    )
