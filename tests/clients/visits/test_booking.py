from datetime import date, time, timedelta

import pytest

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.paperwork.models import Decision
from clients.visits.actions import (
    book_new_visit,
    book_visit,
    cancel_visit,
    confirm_time,
    move_visit,
    pencil_visit,
)
from clients.visits.models import Visit
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, BarnWindowFactory, MachineFactory, ServiceFactory
from tests.factories.kit import HireFactory
from tests.factories.paperwork import ready_animal
from tests.factories.visits import MONDAY, VisitFactory, ready_visit

pytestmark = pytest.mark.django_db
NINE = time(9, 0)


@pytest.fixture(autouse=True)
def _open_for_business(business):
    """Permission reads the place of law from the profile."""


def book(visit, now, starts=NINE, **more):
    return book_visit(visit=visit, starts=starts, at=now, by=None, **more)


def test_booking_keeps_the_time_and_the_decision(now):
    visit = book(ready_visit(), now)
    assert (visit.status, visit.starts, visit.ends) == (Visit.Status.BOOKED, NINE, time(10, 0))
    decision = visit.booking_decision
    assert (decision.door, decision.for_day, decision.result) == (Decision.Door.BOOKING, MONDAY, "ready")
    assert decision.facts["machine"]["name"] == visit.machine.name
    assert trail_of(visit).first().action == "visit booked"


def test_booking_twice_is_refused(now):
    visit = book(ready_visit(), now)
    with pytest.raises(Refused, match="Only a pencilled visit"):
        book(visit, now)


def test_a_horse_on_hold_is_not_booked(now):
    visit = VisitFactory()
    with pytest.raises(Refused, match="hold"):
        book(visit, now)
    visit.refresh_from_db()
    assert visit.status == Visit.Status.PENCILLED
    assert not Decision.objects.exists()


def test_ask_goes_on_with_a_reason_by_somebody_who_may(now, owner_manager, assistant):
    visit = ready_visit(animal=ready_animal(asked_on=date(2025, 6, 1)))
    with pytest.raises(Refused, match="write the reason"):
        book(visit, now)
    with pytest.raises(Refused, match="Only a practitioner"):
        book_visit(visit=visit, starts=NINE, at=now, by=assistant, override_reason="Owner said so by phone")
    booked = book_visit(visit=visit, starts=NINE, at=now, by=owner_manager, override_reason="Owner said so by phone")
    assert booked.booking_decision.override_reason == "Owner said so by phone"


@pytest.mark.parametrize(
    ("same", "sentence"),
    [
        ("practitioner", "is taken then: Fig at Tin Bucket, 9:30–10:30"),
        ("machine", "is taken then: Fig at Tin Bucket, 9:30–10:30"),
    ],
)
def test_nobody_and_no_machine_is_in_two_places(now, same, sentence):
    there = ready_animal(name="Fig", barn__name="Tin Bucket")
    other = book(ready_visit(animal=there), now, starts=time(9, 30))
    visit = ready_visit(**{same: getattr(other, same)})
    with pytest.raises(Refused, match=sentence) as refused:
        book(visit, now)
    assert str(getattr(other, same)) in refused.value.sentence


def test_a_horse_is_not_in_two_visits_at_once(now):
    other = book(ready_visit(), now)
    with pytest.raises(Refused, match="is taken then"):
        book(VisitFactory(animal=other.animal), now)


def test_visits_of_a_stop_follow_each_other(now):
    first = book(ready_visit(), now)
    second = ready_visit(practitioner=first.practitioner, machine=first.machine, animal=ready_animal())
    assert book(second, now, starts=time(10, 0)).starts == time(10, 0)


def test_a_cancelled_visit_takes_no_time(now):
    first = book(ready_visit(), now)
    cancel_visit(visit=first, reason="Owner away", at=now, by=None)
    assert book(ready_visit(practitioner=first.practitioner, machine=first.machine), now).status == "booked"


def test_a_machine_on_hire_is_not_booked(now):
    hire = HireFactory(since=MONDAY, until=MONDAY)
    with pytest.raises(Refused, match="is on hire to"):
        book(ready_visit(machine=hire.machine), now)


def test_a_machine_with_an_overdue_inspection_is_not_booked(now):
    machine = MachineFactory(inspection_due=date(2026, 3, 1))
    with pytest.raises(Refused, match="inspection"):
        book(ready_visit(machine=machine), now)


def test_a_service_that_uses_a_machine_needs_one(now):
    with pytest.raises(Refused, match="needs a machine"):
        book(ready_visit(machine=None), now)


def test_a_machine_can_be_chosen_on_booking(now):
    machine = MachineFactory()
    assert book(ready_visit(machine=None), now, machine=machine).machine == machine


def test_massage_needs_no_machine(now):
    visit = ready_visit(service=ServiceFactory(uses_machine=False), machine=None)
    assert book(visit, now).status == Visit.Status.BOOKED


def test_outside_the_barns_window_takes_a_reason(now):
    visit = ready_visit()
    BarnWindowFactory(barn=visit.barn, opens="13:00", closes="15:00")
    with pytest.raises(Refused, match="starts from 13:00 to 15:00"):
        book(visit, now)
    booked = book(visit, now, outside_hours_reason="The owner lets us in")
    assert booked.outside_hours_reason == "The owner lets us in"


def test_a_window_of_another_weekday_does_not_bind(now):
    visit = ready_visit()
    BarnWindowFactory(barn=visit.barn, weekday=3, opens="13:00", closes="15:00")
    assert book(visit, now).outside_hours_reason == ""


def test_outside_our_own_day_takes_a_reason(now):
    with pytest.raises(Refused, match="The working day is 8:00 to 17:30"):
        book(ready_visit(), now, starts=time(17, 0))


def test_past_midnight_is_refused(now):
    with pytest.raises(Refused, match="past midnight"):
        book(ready_visit(), now, starts=time(23, 30), outside_hours_reason="Night work")


def pencil(now, **changes):
    facts = {
        "animal": None,
        "service": None,
        "practitioner": None,
        "day": MONDAY,
        "at": now,
        "by": None,
    } | changes
    facts["animal"] = facts["animal"] or AnimalFactory()
    facts["service"] = facts["service"] or ServiceFactory()
    facts["practitioner"] = facts["practitioner"] or UserFactory()
    return pencil_visit(**facts)


def test_a_pencilled_visit_takes_the_minutes_of_its_service(now):
    visit = pencil(now, service=ServiceFactory(minutes=45))
    assert (visit.minutes, visit.status, visit.starts) == (45, Visit.Status.PENCILLED, None)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"day": date(1926, 3, 2)}, "Tue 2 Mar 1926 is past"),
        ({"day": date(2126, 3, 2)}, "more than two years ahead"),
        ({"minutes": 900}, "from 5 to 300 minutes, not 900"),
        ({"minutes": 0}, "from 5 to 300 minutes, not 0"),
        ({"part": 3}, "two parts"),
    ],
)
def test_an_absurd_visit_is_refused(now, changes, sentence):
    with pytest.raises(Refused, match=sentence):
        pencil(now, **changes)


def test_a_horse_that_died_gets_no_visit(now):
    with pytest.raises(Refused, match="has died"):
        pencil(now, animal=AnimalFactory(died_on=date(2026, 2, 1)))


def test_somebody_who_left_gets_no_visit(now):
    with pytest.raises(Refused, match="no longer works here"):
        pencil(now, practitioner=UserFactory(is_active=False))


def test_a_new_visit_that_cannot_be_booked_leaves_nothing_behind(now):
    with pytest.raises(Refused):
        book_new_visit(
            animal=AnimalFactory(),
            service=ServiceFactory(),
            practitioner=UserFactory(),
            machine=MachineFactory(),
            day=MONDAY,
            starts=NINE,
            at=now,
            by=None,
        )
    assert not Visit.objects.exists()


def test_moving_a_booked_visit_decides_anew_and_unconfirms_the_time(now):
    visit = confirm_time(visit=book(ready_visit(), now), at=now, by=None)
    before = visit.booking_decision_id
    moved = move_visit(visit=visit, day=MONDAY + timedelta(days=1), starts=time(11, 0), at=now, by=None)
    assert (moved.day, moved.starts, moved.is_confirmed) == (date(2026, 3, 3), time(11, 0), False)
    assert moved.booking_decision_id != before
    assert moved.booking_decision.for_day == date(2026, 3, 3)


def test_moving_a_pencilled_visit_needs_no_time(now):
    moved = move_visit(visit=VisitFactory(), day=date(2026, 3, 5), starts=None, at=now, by=None)
    assert (moved.day, moved.status) == (date(2026, 3, 5), Visit.Status.PENCILLED)


def test_moving_onto_somebody_elses_time_is_refused(now):
    other = book(ready_visit(day=date(2026, 3, 3)), now)
    visit = book(ready_visit(practitioner=other.practitioner), now)
    with pytest.raises(Refused, match="is taken then"):
        move_visit(visit=visit, day=date(2026, 3, 3), starts=NINE, at=now, by=None)


def test_a_booked_visit_is_not_moved_without_a_time(now):
    with pytest.raises(Refused, match="needs a time"):
        move_visit(visit=book(ready_visit(), now), day=date(2026, 3, 3), starts=None, at=now, by=None)


def test_a_visit_is_not_moved_into_the_past(now):
    with pytest.raises(Refused, match="is past"):
        move_visit(visit=VisitFactory(), day=date(2026, 3, 1), starts=None, at=now, by=None)


def test_a_completed_visit_is_not_moved_cancelled_or_confirmed(now):
    visit = VisitFactory(completed=True)
    with pytest.raises(Refused, match="can be moved"):
        move_visit(visit=visit, day=date(2026, 3, 3), starts=NINE, at=now, by=None)
    with pytest.raises(Refused, match="can be cancelled"):
        cancel_visit(visit=visit, reason="Mistake", at=now, by=None)
    with pytest.raises(Refused, match="time to confirm"):
        confirm_time(visit=visit, at=now, by=None)


@pytest.mark.parametrize(("day", "is_late"), [(MONDAY, True), (date(2026, 3, 3), True), (date(2026, 3, 4), False)])
def test_cancelling_with_less_notice_than_asked_is_late(now, day, is_late):
    visit = cancel_visit(visit=VisitFactory(booked=True, day=day), reason="Owner away", at=now, by=None)
    assert (visit.status, visit.is_late_cancel) == (Visit.Status.CANCELLED, is_late)


def test_cancelling_a_pencilled_visit_is_never_late(now):
    assert not cancel_visit(visit=VisitFactory(), reason="Owner away", at=now, by=None).is_late_cancel


def test_cancelling_takes_a_reason(now):
    with pytest.raises(Refused, match="Say why"):
        cancel_visit(visit=VisitFactory(), reason="  ", at=now, by=None)
