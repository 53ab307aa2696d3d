from datetime import date

import pytest

from clients.kit.queries import (
    free_machines,
    hires_due_back,
    machine_is_free,
    machines_due,
    machines_in_use,
    why_machine_is_not_free,
)
from tests.factories.clients import MachineFactory
from tests.factories.kit import HireFactory

MONDAY = date(2026, 3, 2)
pytestmark = pytest.mark.django_db


def test_a_machine_with_nothing_against_it_is_free():
    assert machine_is_free(MachineFactory(), MONDAY)


@pytest.mark.parametrize(
    ("due", "is_free"), [(date(2026, 3, 1), False), (date(2026, 3, 2), True), (None, True), (date(1926, 1, 1), False)]
)
def test_a_machine_works_up_to_the_day_its_inspection_is_due(due, is_free):
    assert machine_is_free(MachineFactory(inspection_due=due), MONDAY) is is_free


def test_an_overdue_inspection_is_named_with_its_day():
    machine = MachineFactory(name="Old blue", inspection_due=date(2026, 2, 1))
    assert why_machine_is_not_free(machine, MONDAY) == "The inspection of Old blue was due on Sun 1 Feb 2026."


def test_a_machine_out_of_use_is_not_free():
    assert "out of use" in why_machine_is_not_free(MachineFactory(is_in_use=False), MONDAY)


@pytest.mark.parametrize(
    ("day", "is_free"),
    [(date(2026, 3, 8), True), (date(2026, 3, 9), False), (date(2026, 4, 5), False), (date(2026, 4, 6), True)],
)
def test_a_machine_on_hire_is_away_from_its_first_to_its_last_day(day, is_free):
    assert machine_is_free(HireFactory().machine, day) is is_free


def test_a_machine_given_back_early_is_free_from_the_day_after():
    machine = HireFactory(returned_on=date(2026, 3, 20)).machine
    assert not machine_is_free(machine, date(2026, 3, 20))
    assert machine_is_free(machine, date(2026, 3, 21))


def test_the_hirer_is_named():
    hire = HireFactory(machine__name="Old blue", person__name="Imani Velloran")
    assert why_machine_is_not_free(hire.machine, date(2026, 3, 10)) == (
        "Old blue is on hire to Imani Velloran until Sun 5 Apr 2026."
    )


def test_free_machines_are_read_in_three_queries(django_assert_num_queries):
    for _ in range(5):
        HireFactory()
    free = MachineFactory()
    with django_assert_num_queries(3):
        assert free_machines(machines_in_use(), date(2026, 3, 10)) == [free]


def test_machines_due_and_hires_due_back():
    due = MachineFactory(inspection_due=MONDAY)
    hire = HireFactory(since=date(2026, 2, 1), until=MONDAY)
    HireFactory(since=date(2026, 2, 1), until=MONDAY, returned_on=MONDAY)
    assert list(machines_due(MONDAY)) == [due]
    assert list(hires_due_back(MONDAY)) == [hire]
