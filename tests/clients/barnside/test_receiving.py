"""Entries from the barn: taken once, by the forms' own actions; what cannot be taken waits for a person."""

import base64
from datetime import time, timedelta

import pytest

from backoffice.audit.queries import trail_of
from backoffice.business.queries import the_business
from backoffice.refusal import Refused
from clients.barnside.actions import let_in_again, remove_phone, settle
from clients.barnside.kinds import KINDS, WORDS
from clients.barnside.models import BarnEvent, HandMoney
from clients.barnside.queries import open_entries
from clients.paperwork.actions import open_stop_note
from clients.paperwork.models import StopNote
from clients.paperwork.signers import text_of
from clients.paperwork.signing import digest_of
from clients.visits.actions import book_visit, cancel_visit
from clients.visits.models import StopList, Told, Visit, VisitPhoto
from tests.clients.barnside.entries import (
    ALL_WELL,
    OTHER_KEY,
    PHONE_KEY,
    area,
    entry,
    new_id,
    phone_of,
    send,
    whole_visit,
)
from tests.conftest import NOW
from tests.factories.clients import ApplicatorFactory
from tests.factories.paperwork import DRAWN, FormFactory
from tests.factories.visits import ready_visit
from tests.uploads import photo

State = BarnEvent.State
pytestmark = pytest.mark.usefixtures("private_folder")


@pytest.fixture
def visit(owner_manager, now) -> Visit:
    return book_visit(visit=ready_visit(practitioner=owner_manager), starts=time(9, 0), at=now, by=owner_manager)


@pytest.fixture
def phone(owner_manager, now):
    return phone_of(owner_manager, now)


def states(answers) -> list[str]:
    return [answer.state for answer in answers]


def test_a_visit_written_in_the_barn_is_the_visit_that_the_form_would_write(phone, visit, now):
    later = now + timedelta(hours=2)
    assert states(send(phone, *whole_visit(visit, now), at=later)) == ["taken"] * 4
    visit.refresh_from_db()
    session = visit.sessions.get()
    assert (visit.status, visit.completed_at) == (Visit.Status.COMPLETED, now)
    assert (visit.arrival.is_dry, visit.start_decision.result) == (True, "ready")
    assert [(each.area, each.minutes, each.setting) for each in session.areas.all()] == [
        ("Withers", 3, None),
        ("Loins", 4, 2),
    ]
    assert (session.minutes, session.ease_before, session.ease_after, session.reaction) == (7, 4, 7, "yawned")
    assert visit.report is not None


def test_an_entry_that_arrives_twice_is_taken_once_and_answered_alike(phone, visit, now):
    entries = whole_visit(visit, now)
    first = send(phone, *entries, at=now)
    assert send(phone, *entries, at=now) == first
    assert (BarnEvent.objects.count(), visit.sessions.count()) == (4, 1)


def test_half_a_batch_and_then_the_whole_is_the_whole(phone, visit, now):
    entries = whole_visit(visit, now)
    send(phone, *entries[:2], at=now)
    assert states(send(phone, *entries, at=now)) == ["taken"] * 4
    assert visit.sessions.get().areas.count() == 2


def test_two_phones_on_one_visit_are_merged_area_by_area(phone, visit, owner_manager, now):
    other = phone_of(owner_manager, now, OTHER_KEY)
    send(phone, entry("arrival", visit, now, **ALL_WELL), entry("areas", visit, now, areas=[area("Withers")]), at=now)
    send(other, entry("areas", visit, now, areas=[area("Hocks", 5)]), at=now)
    send(phone, entry("done", visit, now), at=now)
    assert list(visit.sessions.get().areas.values_list("area", "minutes")) == [("Withers", 3), ("Hocks", 5)]


def test_what_another_phone_adds_after_the_visit_was_done_is_added(phone, visit, owner_manager, now):
    send(phone, *whole_visit(visit, now), at=now)
    other = phone_of(owner_manager, now, OTHER_KEY)
    first = Visit.objects.get(pk=visit.pk).report
    late = [
        entry("areas", visit, now, areas=[area("Hocks", 5), area("Withers")]),
        entry("how", visit, now, note="Calm."),
    ]
    assert states(send(other, *late, at=now)) == ["taken", "taken"]
    visit.refresh_from_db()
    assert visit.sessions.get().areas.count() == 3
    assert (visit.note, visit.sessions.get().minutes) == ("Calm.", 12)
    assert visit.report != first


def test_a_true_clash_shows_both_and_a_person_decides(phone, visit, owner_manager, now):
    send(phone, *whole_visit(visit, now), at=now)
    other = phone_of(owner_manager, now, OTHER_KEY)
    (answer,) = send(other, entry("how", visit, now, ease_after=3), at=now)
    assert (answer.state, answer.sentence) == ("open", "Ease after: here 7, on the phone 3.")
    assert visit.sessions.get().ease_after == 7
    settle(event=open_entries().get(), take=True, at=now, by=owner_manager)
    assert visit.sessions.get().ease_after == 3
    assert not open_entries().exists()


def test_a_clash_before_the_end_is_recorded_with_the_later_and_shown(phone, visit, owner_manager, now):
    other = phone_of(owner_manager, now, OTHER_KEY)
    send(other, entry("how", visit, now - timedelta(minutes=9), ease_after=2), at=now)
    answers = send(phone, *whole_visit(visit, now), at=now)
    assert (answers[-1].state, visit.sessions.get().ease_after) == ("open", 7)
    assert "Ease after: 2 on one phone, 7 on another; the later one is recorded." in answers[-1].sentence
    assert open_entries().get().is_applied


def test_the_phone_may_correct_its_own_after_the_end(phone, visit, now):
    send(phone, *whole_visit(visit, now), at=now)
    assert states(send(phone, entry("how", visit, now, ease_after=8), at=now)) == ["taken"]
    assert visit.sessions.get().ease_after == 8


def test_an_area_taken_out_after_the_end_goes(phone, visit, now):
    send(phone, *whole_visit(visit, now), at=now)
    assert states(send(phone, entry("areas", visit, now, areas=[{"area": "Loins", "minutes": 0}]), at=now)) == ["taken"]
    assert [each.area for each in visit.sessions.get().areas.all()] == ["Withers"]


def test_work_done_before_a_stop_note_reached_the_phone_is_recorded_and_told(phone, visit, owner_manager, now):
    open_stop_note(animal=visit.animal, seen="Sweating.", at=now, by=owner_manager)
    answers = send(phone, *whole_visit(visit, now), at=now)
    visit.refresh_from_db()
    assert (visit.status, answers[-1].state) == (Visit.Status.COMPLETED, "open")
    assert "The work was done and is recorded; permission says hold" in answers[-1].sentence


def test_going_on_after_ask_takes_the_reason_of_somebody_who_may(visit, phone, now, owner_manager, assistant):
    visit.animal.health_facts.all().delete()
    sent = whole_visit(visit, now)
    sent[-1]["values"] = {"override_reason": "The owner told me on the phone."}
    assert states(send(phone, *sent, at=now))[-1] == "taken"
    visit.refresh_from_db()
    assert visit.start_decision.override_reason == "The owner told me on the phone."


def test_an_assistants_reason_does_not_pass_for_a_practitioners(now, assistant, owner_manager):
    visit = book_visit(visit=ready_visit(practitioner=assistant), starts=time(9, 0), at=now, by=owner_manager)
    visit.animal.health_facts.all().delete()
    sent = whole_visit(visit, now)
    sent[-1]["values"] = {"override_reason": "I think so."}
    answer = send(phone_of(assistant, now), *sent, at=now)[-1]
    assert answer.state == "open"
    assert "permission says ask" in answer.sentence


def test_a_visit_called_off_meanwhile_waits_and_is_recorded_when_a_person_says_so(phone, visit, owner_manager, now):
    cancel_visit(visit=visit, reason="Owner away.", at=now, by=owner_manager)
    answers = send(phone, *whole_visit(visit, now), at=now)
    assert answers[-1].state == "open"
    assert "The visit was called off meanwhile: Owner away." in answers[-1].sentence
    settle(event=open_entries().get(), take=True, at=now, by=owner_manager)
    visit.refresh_from_db()
    assert (visit.status, visit.cancel_reason) == (Visit.Status.COMPLETED, "")
    assert visit.report is not None


def test_leaving_an_entry_takes_a_reason_and_is_done_once(phone, visit, owner_manager, now):
    cancel_visit(visit=visit, reason="Owner away.", at=now, by=owner_manager)
    send(phone, *whole_visit(visit, now), at=now)
    event = open_entries().get()
    with pytest.raises(Refused, match="Say why"):
        settle(event=event, take=False, at=now, by=owner_manager)
    settle(event=event, take=False, reason="Another horse was meant.", at=now, by=owner_manager)
    with pytest.raises(Refused, match="decided already"):
        settle(event=event, take=True, at=now, by=owner_manager)
    assert [each.action for each in trail_of(event)] == ["entry decided", "entry waits for a decision"]


def test_done_without_a_look_over_waits(phone, visit, now):
    (answer,) = send(phone, entry("done", visit, now), at=now)
    assert "look-over on arrival was not noted" in answer.sentence


def test_could_not_work_and_the_call_list(phone, visit, now):
    sent = [
        entry("could_not", visit, now, cause="wet", note="Rain blew in."),
        entry("next", visit, now, day="", reason="She calls."),
    ]
    assert states(send(phone, *sent, at=now)) == ["taken", "taken"]
    visit.refresh_from_db()
    assert (visit.status, visit.cause, visit.call_list_reason) == ("could_not_work", "wet", "She calls.")


def test_stop_holds_the_horse_with_the_moment_of_the_barn(phone, visit, now):
    send(phone, entry("stop", visit, now, seen="10:00 Pawing."), at=now + timedelta(hours=3))
    note = StopNote.objects.get()
    assert (note.animal, note.opened_at, note.seen) == (visit.animal, now, "10:00 Pawing.")


def test_stop_after_the_visit_was_done_holds_the_horse_too(phone, visit, now):
    send(phone, *whole_visit(visit, now), at=now)
    (answer,) = send(phone, entry("stop", visit, now, seen="Staggering."), at=now)
    assert StopNote.objects.filter(animal=visit.animal).exists()
    assert "on hold by a stop note; the visit stays completed" in answer.sentence


def test_the_next_visit_is_pencilled(phone, visit, now):
    day = visit.day + timedelta(days=7)
    assert states(send(phone, *whole_visit(visit, now), entry("next", visit, now, day=day.isoformat()), at=now))[-1]
    assert Visit.objects.get(status="pencilled").day == day


def test_the_lists_of_a_stop(phone, visit, now):
    sent = [entry("set_up", visit, now, done=["power", "lead"]), entry("cleaned", visit, now, done=["boots"])]
    assert states(send(phone, *sent, at=now)) == ["taken", "taken"]
    assert [(each.kind, each.done) for each in StopList.objects.order_by("kind")] == [
        ("cleaning", ["boots"]),
        ("set_up", ["power", "lead"]),
    ]


def test_a_photo_is_made_anew_and_its_entry_keeps_no_picture(phone, visit, now):
    jpeg = base64.b64encode(photo(located=True)).decode()
    assert states(send(phone, entry("photo", visit, now, jpeg=jpeg, words="Near hock"), at=now)) == ["taken"]
    kept = VisitPhoto.objects.get()
    assert (kept.words, kept.taken_at) == ("Near hock", now)
    assert BarnEvent.objects.get().values == {"document": kept.document_id, "words": "Near hock"}


@pytest.mark.parametrize("jpeg", ["", "not base64!", base64.b64encode(b"%PDF-1.7").decode()])
def test_what_is_no_photo_waits(phone, visit, now, jpeg):
    assert states(send(phone, entry("photo", visit, now, jpeg=jpeg), at=now)) == ["open"]


def test_money_taken_is_kept_for_the_money_side(phone, visit, now):
    owner = visit.animal.ownerships.get().person
    sent = entry("money", visit, now, person=owner.pk, amount="95.50", method="check", words="1042")
    assert states(send(phone, sent, at=now)) == ["taken"]
    taken = HandMoney.objects.get()
    assert (taken.person, str(taken.amount), taken.method, taken.words) == (owner, "95.50", "check", "1042")


@pytest.mark.parametrize("amount", ["0", "-0.01", "12.345", "ten", "1000000"])
def test_money_that_cannot_be_is_not_taken(phone, visit, now, amount):
    owner = visit.animal.ownerships.get().person
    assert states(send(phone, entry("money", visit, now, person=owner.pk, amount=amount, method="cash"), at=now)) == [
        "open"
    ]


def test_money_of_somebody_with_no_part_in_the_horse_waits(phone, visit, now):
    stranger = ready_visit().animal.ownerships.get().person
    (answer,) = send(phone, entry("money", visit, now, person=stranger.pk, amount="5", method="cash"), at=now)
    assert "has no part in" in answer.sentence


@pytest.fixture
def signed(visit):
    """A form of the horse, and what its owner signs on the phone."""
    owner = visit.animal.ownerships.get().person
    form = FormFactory(animal=visit.animal, signer=owner)
    text = text_of(form, on=visit.day, business=the_business())
    said = {"form": form.pk, "name_typed": owner.name, "capacity": "owner", "strokes": DRAWN, "read": digest_of(text)}
    return form, said


def test_a_form_signed_in_the_barn_is_sealed_with_the_moment_of_the_barn(phone, visit, now, signed):
    form, said = signed
    assert states(send(phone, entry("sign", visit, now, **said), at=now + timedelta(hours=5))) == ["taken"]
    form.refresh_from_db()
    assert (form.state, form.signature.signed_at, form.signature.device) == ("signed", now, "A phone")
    assert (form.signature.witnessed_by, form.document.is_sealed) == (visit.practitioner, True)
    assert BarnEvent.objects.get().values == {"form": form.pk}


def test_a_text_that_changed_since_it_was_read_waits_with_the_strokes(phone, visit, now, signed, owner_manager):
    form, said = signed
    (answer,) = send(phone, entry("sign", visit, now, **{**said, "read": "0" * 64}), at=now)
    assert "The text changed while it was being read." in answer.sentence
    assert open_entries().get().values["strokes"]
    settle(event=open_entries().get(), take=False, reason="Signed anew.", at=now, by=owner_manager)
    form.refresh_from_db()
    assert form.state == "to_sign"


def test_somebody_was_told(phone, visit, now):
    owner = visit.animal.ownerships.get().person
    assert states(send(phone, entry("told", visit, now, person=owner.pk, what="late"), at=now)) == ["taken"]
    assert Told.objects.get().person == owner


@pytest.mark.parametrize(
    ("kind", "values", "sentence"),
    [
        ("areas", {"areas": [area("Hocks", 900)]}, "Minutes"),
        ("areas", {"areas": "all"}, "The areas of this entry cannot be read."),
        ("areas", {"areas": [{"minutes": 3}]}, "Name the area."),
        ("areas", {"areas": [area("Hocks", applicator=999)]}, "Applicator: Choose one from the list."),
        ("how", {"ease_before": 11}, "Ease before: Choose one from the list."),
        ("could_not", {"cause": "bored"}, "Why: Choose one from the list."),
        ("stop", {"seen": " "}, "What you see is missing."),
        ("next", {}, "Set the next day, or say why there is none."),
        ("set_up", {"done": ["magic"]}, "Choose one from the list."),
        ("sign", {"form": 1}, "Name typed is missing."),
        ("told", {"person": 0, "what": "late"}, "It is not said who was told what."),
        ("danced", {}, "The kind of this entry is not known here."),
    ],
)
def test_an_entry_that_says_something_impossible_waits_with_its_reason(phone, visit, kind, values, sentence):
    (answer,) = send(phone, entry(kind, visit, NOW, **values), at=NOW)
    assert answer.state == "open"
    assert sentence in answer.sentence
    assert open_entries().get().values == values


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        ({"values": "x"}, "says nothing"),
        ({"values": {"note": "x" * 1_000_000}}, "too long"),
        ({"kind": 7}, "not known"),
        ({"kind": "k" * 500}, "not known"),
        ({"by": "me"}, "whose it is"),
        ({"by": True}, "whose it is"),
        ({"visit": "first"}, "whose it is"),
        ({"at": "today"}, "when it was made"),
        ({"at": -5}, "when it was made"),
        ({"offset": 1e300}, "how wrong its clock was"),
    ],
)
def test_what_cannot_be_read_is_kept_in_part_and_waits(phone, visit, now, change, sentence):
    (answer,) = send(phone, {**entry("how", visit, now), **change}, at=now)
    event = open_entries().get()
    assert sentence in answer.sentence
    assert event.kind == "unreadable"
    assert 0 < len(event.values["raw"]) <= 2000


@pytest.mark.parametrize("raw", [None, 7, "x", [], {}, {"id": 5}, {"id": "6ba7b810-9dad-11d1-80b4-00c04fd430c8"}])
def test_what_has_no_id_of_its_own_is_refused(phone, raw, now):
    assert states(send(phone, raw, at=now)) == ["refused"]
    assert not BarnEvent.objects.exists()


def test_an_entry_for_a_visit_that_is_not_here_waits(phone, visit, now):
    (answer,) = send(phone, {**entry("how", visit, now), "visit": 999_999}, at=now)
    assert (answer.state, answer.sentence) == ("open", "The visit of this entry is not here.")


def test_another_persons_entry_is_not_taken_and_not_lost(phone, visit, now, assistant):
    assert states(send(phone, entry("how", visit, now, by=assistant, note="x"), at=now)) == ["refused"]
    assert not BarnEvent.objects.exists()


def test_the_id_of_another_phones_entry_is_never_written_over(phone, visit, now, owner_manager):
    id = new_id()
    send(phone, entry("how", visit, now, id=id, note="First."), at=now)
    other = phone_of(owner_manager, now, OTHER_KEY)
    assert states(send(other, entry("how", visit, now, id=id, note="Second."), at=now)) == ["refused"]
    assert BarnEvent.objects.get().values == {"note": "First."}


def test_an_entry_of_the_future_counts_from_when_it_came(phone, visit, now):
    send(phone, entry("stop", visit, now + timedelta(days=3), seen="Sweating."), at=now)
    event = BarnEvent.objects.get()
    assert (event.happened_at, event.device_at) == (now, now + timedelta(days=3))


@pytest.mark.parametrize("offset", [0, 86_400_000])
def test_a_clock_that_is_a_day_slow_completes_the_visit_on_its_day(phone, visit, now, offset):
    day, before = timedelta(days=1), now - timedelta(minutes=5)
    sent = [{**each, "offset": offset} for each in whole_visit(visit, before - day)]
    assert states(send(phone, *sent, at=now, drift=day)) == ["taken"] * 4
    visit.refresh_from_db()
    assert visit.completed_at == before


def test_a_removed_phone_is_not_let_in_until_somebody_says_so(phone, owner_manager, now):
    remove_phone(phone=phone, at=now, by=owner_manager)
    with pytest.raises(Refused, match="removed from the office"):
        phone_of(owner_manager, now)
    let_in_again(phone=phone, at=now, by=owner_manager)
    assert phone_of(owner_manager, now) == phone


def test_a_phone_is_one_persons(phone, assistant, now):
    with pytest.raises(Refused, match="Another person"):
        phone_of(assistant, now, PHONE_KEY)


def test_every_kind_has_words_for_the_desk():
    assert set(KINDS) == set(WORDS)


def test_an_applicator_is_kept_with_its_area(phone, visit, now):
    loop = ApplicatorFactory(name="Large loop")
    sent = whole_visit(visit, now)
    sent[1]["values"] = {"areas": [area("Withers", applicator=loop.pk)]}
    send(phone, *sent, at=now)
    assert visit.sessions.get().areas.get().applicator == loop


def test_a_slip_keeps_its_number_and_one_given_out_twice_is_told(phone, visit, now):
    payer = visit.animal.ownerships.get().person.pk
    given = {"person": payer, "amount": "95.00", "method": "cash", "words": "", "slip": "P1-0001"}
    first = send(phone, entry("money", visit, now, **given), at=now)
    again = send(phone, entry("money", visit, now, **given), at=now)
    assert states([*first, *again]) == ["taken", "open"]
    assert again[0].sentence == "Slip P1-0001 was given out twice: look at both."
    assert HandMoney.objects.filter(slip="P1-0001").count() == 2


def test_a_measure_taken_in_the_barn_is_the_measure_that_the_form_would_write(phone, visit, now):
    tape = entry("measure", visit, now, scale="tape", girth=72.8, length=65, inches=True, given_by="Marta")
    grade = entry("measure", visit, now, scale="lameness", number=2, given_by="Dr. Ada Lindqvist")
    assert states(send(phone, tape, grade, at=now)) == ["taken", "taken"]
    weight, lameness = visit.animal.measures.order_by("-kind")
    assert (str(weight.value), str(weight.girth_cm), weight.taken_on) == ("474.3", "184.9", visit.day)
    assert (lameness.value, lameness.given_by) == (2, "Dr. Ada Lindqvist")


@pytest.mark.parametrize(
    ("values", "sentence"),
    [
        ({"scale": "mood", "number": 3}, "scale of this measure is not known"),
        ({"scale": "condition", "number": 12, "given_by": "M"}, "Body condition is between 1 and 9."),
        ({"scale": "heart", "number": "fast", "given_by": "M"}, "number"),
        ({"scale": "lameness", "number": 2}, "The vet who graded it is missing."),
    ],
)
def test_a_measure_off_its_scale_waits_for_a_person(phone, visit, now, values, sentence):
    (answer,) = send(phone, entry("measure", visit, now, **values), at=now)
    assert answer.state == State.OPEN
    assert sentence in answer.sentence
    assert not visit.animal.measures.exists()
