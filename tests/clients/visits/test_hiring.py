from datetime import date, timedelta

import pytest

from backoffice.refusal import Refused
from clients.visits.actions import hire_out
from tests.factories.clients import MachineFactory, PersonFactory
from tests.factories.kit import HireFactory
from tests.factories.visits import MONDAY, VisitFactory

pytestmark = pytest.mark.django_db


def hire(machine, now, since=MONDAY, until=MONDAY + timedelta(days=27)):
    return hire_out(machine=machine, person=PersonFactory(), since=since, until=until, at=now, by=None)


def test_a_machine_is_promised_from_a_day_to_a_day(now):
    assert hire(MachineFactory(), now).until == date(2026, 3, 29)


def test_a_machine_is_not_promised_to_two(now):
    there = HireFactory()
    with pytest.raises(Refused, match=f"is on hire to {there.person}"):
        hire(there.machine, now)


def test_a_machine_given_back_may_be_promised_again(now):
    there = HireFactory(since=MONDAY, returned_on=MONDAY)
    assert hire(there.machine, now, since=MONDAY + timedelta(days=1)).machine == there.machine


def test_a_machine_booked_for_a_visit_is_not_hired_out(now):
    visit = VisitFactory(booked=True)
    with pytest.raises(Refused, match=f"is booked for {visit.animal}"):
        hire(visit.machine, now)


def test_a_pencilled_visit_does_not_keep_a_machine(now):
    assert hire(VisitFactory().machine, now)


@pytest.mark.parametrize(
    ("machine", "dates", "sentence"),
    [
        ({"is_in_use": False}, {}, "out of use"),
        ({"inspection_due": date(2026, 3, 10)}, {}, "falls due before the hire ends"),
        ({}, {"until": date(1926, 3, 1)}, "before its first"),
        ({}, {"until": date(2028, 3, 1)}, "at most 366 days"),
    ],
)
def test_an_impossible_hire_is_refused(now, machine, dates, sentence):
    with pytest.raises(Refused, match=sentence):
        hire(MachineFactory(**machine), now, **dates)
