from datetime import date, time

import pytest

from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.rounds.actions import plan_round
from clients.rounds.day_round import Isolation, Priority, Span
from clients.rounds.queries import day_to_plan, is_out_of_date, seconds_of, stops_on, time_of
from clients.visits.models import Visit
from tests.factories.clients import BarnFactory, BarnWindowFactory
from tests.factories.paperwork import ready_animal
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY, VisitFactory

pytestmark = pytest.mark.django_db
HOUR = 3600
SETUP = 600


@pytest.fixture
def business(business):
    """As it is read back: times are times."""
    business.refresh_from_db()
    return business


def stops(practitioner, business, **options):
    return day_to_plan(MONDAY, practitioner, business, **options).request.stops


def test_horses_of_one_barn_are_one_stop_with_the_setup_counted_once(business, owner_manager):
    barn = near_barn()
    for _ in range(3):
        booked_visit(owner_manager, barn=barn, minutes=40)
    (stop,) = stops(owner_manager, business)
    assert stop.seconds == SETUP + 3 * 40 * 60


def test_another_barn_another_part_of_the_day_and_isolation_are_stops_of_their_own(business, owner_manager):
    barn = near_barn()
    booked_visit(owner_manager, barn=barn)
    booked_visit(owner_manager, barn=barn, part=2)
    booked_visit(owner_manager, animal=ready_animal(barn=barn, isolation=Animal.Isolation.EXPOSED))
    booked_visit(owner_manager)
    found = stops(owner_manager, business)
    assert len(found) == len({stop.key for stop in found}) == 4
    assert sorted(stop.isolation for stop in found) == [Isolation.CLEAN] * 3 + [Isolation.EXPOSED]


def test_isolation_that_has_ended_counts_no_more(business, owner_manager):
    animal = ready_animal(barn=near_barn(), isolation=Animal.Isolation.INFECTED, isolated_until=date(2026, 3, 1))
    booked_visit(owner_manager, animal=animal)
    assert [stop.isolation for stop in stops_on(MONDAY, owner_manager)] == ["clean"]


def test_cancelled_visits_other_days_and_other_people_are_left_out(business, owner_manager, assistant):
    booked_visit(owner_manager, status=Visit.Status.CANCELLED)
    booked_visit(owner_manager, day=date(2026, 3, 3))
    booked_visit(assistant)
    assert stops_on(MONDAY, owner_manager) == []


def test_the_windows_of_the_weekday_hold_and_those_of_another_do_not(business, owner_manager):
    barn = near_barn()
    BarnWindowFactory(barn=barn, weekday=0, opens=time(13), closes=time(15))
    BarnWindowFactory(barn=barn, weekday=1, opens=time(8), closes=time(9))
    booked_visit(owner_manager, barn=barn)
    (stop,) = stops(owner_manager, business)
    assert stop.windows == (Span(13 * HOUR, 15 * HOUR),)


def test_the_second_part_of_the_day_begins_after_the_lunch_span(business, owner_manager):
    barn = near_barn()
    BarnWindowFactory(barn=barn, opens=time(8), closes=time(15))
    booked_visit(owner_manager, barn=barn, part=2)
    booked_visit(owner_manager, part=2)
    windowed, free = stops(owner_manager, business)
    assert windowed.windows == (Span(seconds_of(time(13, 30)), 15 * HOUR),)
    assert free.windows == (Span(seconds_of(time(13, 30)), seconds_of(time(17, 30))),)


def test_a_promised_time_is_kept_with_the_setup_before_it(business, owner_manager):
    barn = near_barn()
    booked_visit(owner_manager, barn=barn, starts=time(8, 0))
    booked_visit(owner_manager, barn=barn, starts=time(10, 30), is_confirmed=True)
    (stop,) = stops(owner_manager, business)
    assert stop.locked == seconds_of(time(10, 30)) - SETUP


def test_a_stop_of_pencilled_visits_gives_way_to_booked_ones(business, owner_manager):
    pencilled = VisitFactory(practitioner=owner_manager, animal=ready_animal(barn=near_barn()))
    booked = booked_visit(owner_manager)
    found = {stop.key: stop.priority for stop in stops(owner_manager, business)}
    assert found == {f"{pencilled.barn_id}-1-clean": Priority.LOW, f"{booked.barn_id}-1-clean": Priority.NORMAL}


def test_what_is_done_at_a_stop_set_beside_is_taken_out_of_the_plan(business, owner_manager):
    barn = near_barn()
    done = booked_visit(owner_manager, barn=barn, completed=True)
    to_do = booked_visit(owner_manager, barn=barn)
    key = f"{barn.pk}-1-clean"
    day = day_to_plan(MONDAY, owner_manager, business, beside={key})
    assert [stop.visits for stop in day.done] == [(done,)]
    assert day.stops[key].visits == (to_do,)
    assert day.request.stops[0].locked is None


def test_what_is_done_at_a_barn_without_a_place_is_done_and_not_astray(business, owner_manager):
    done = booked_visit(owner_manager, barn=BarnFactory(lat=None, lon=None), completed=True)
    day = day_to_plan(MONDAY, owner_manager, business)
    assert (day.astray, [stop.visits for stop in day.done]) == ((), [(done,)])


def test_without_a_base_nothing_is_planned(business, owner_manager):
    business.base_lat = None
    with pytest.raises(Refused, match="Where does the day begin"):
        day_to_plan(MONDAY, owner_manager, business)


def test_a_day_is_read_in_six_queries_however_many_stops(business, owner_manager, django_assert_num_queries):
    for _ in range(6):
        booked_visit(owner_manager)
    with django_assert_num_queries(6):
        day_to_plan(MONDAY, owner_manager, business)


def test_a_planned_day_is_out_of_date_once_a_visit_comes_or_goes(business, owner_manager, now):
    visit = booked_visit(owner_manager)
    planned = plan_round(day=MONDAY, practitioner=owner_manager, at=now, by=owner_manager)
    assert not is_out_of_date(planned)
    added = booked_visit(owner_manager)
    assert is_out_of_date(planned)
    added.delete()
    Visit.objects.filter(pk=visit.pk).update(status=Visit.Status.CANCELLED)
    assert is_out_of_date(planned)


@pytest.mark.parametrize(
    ("seconds", "clock"), [(0, time(0)), (59, time(0)), (34_260, time(9, 31)), (-5, time(0)), (99_999, time(23, 59))]
)
def test_seconds_become_a_clock_time_within_the_day(seconds, clock):
    assert time_of(seconds) == clock
