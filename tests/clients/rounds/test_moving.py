"""A day for a visit: what it costs in driving is shown before it is saved, and the days that suit come first."""

from datetime import date, time, timedelta
from html import unescape

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from clients.rounds.detours import days_for
from clients.rounds.offers import cost_of_moving, days_to_move_to
from clients.rounds.travel import Place, StraightLine
from tests.factories.clients import BarnFactory, BarnWindowFactory, GuidelineVersionFactory
from tests.factories.paperwork import ready_animal
from tests.factories.plans import PlanFactory
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY

pytestmark = pytest.mark.django_db
MOVE_QUERIES = 33
TUESDAY = MONDAY + timedelta(days=1)
FAR = {"lat": 39.9, "lon": -105.2}


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def visit(owner_manager):
    return booked_visit(owner_manager, barn=near_barn(name="Copper Hasp", area="North"))


def page(client, path, status=200):
    response = client.get(path)
    assert response.status_code == status
    return unescape(response.content.decode())


def choices(visit, business, days=(MONDAY, TUESDAY)):
    return days_for(business=business, practitioner=visit.practitioner, barn=visit.barn, days=days, without=visit)


# What a day costs


def test_an_empty_day_costs_the_way_there_and_back(visit, business):
    there = Place(visit.barn.lat, visit.barn.lon)
    table = StraightLine(float(business.circuity), float(business.speed_mph)).table(
        [Place(business.base_lat, business.base_lon), there]
    )
    extra = choices(visit, business)[1].extra
    assert (extra.seconds, extra.metres) == (2 * table.seconds[0][1], 2 * table.metres[0][1])


def test_a_day_on_which_the_barn_is_driven_to_anyway_costs_nothing(visit, business, owner_manager):
    booked_visit(owner_manager, barn=visit.barn, day=TUESDAY)
    choice = choices(visit, business)[1]
    assert (choice.extra.seconds, choice.is_there_anyway, choice.visits) == (0, True, 1)


def test_a_barn_on_the_way_costs_less_than_a_day_of_its_own(visit, business, owner_manager):
    booked_visit(owner_manager, barn=near_barn(lat=39.44, lon=-104.66), day=TUESDAY)
    alone, together = choices(visit, business)
    assert together.extra.seconds < alone.extra.seconds


def test_the_visit_itself_a_cancelled_one_and_another_persons_count_for_nothing(visit, business, owner_manager):
    booked_visit(owner_manager, barn=visit.barn, day=TUESDAY, status="cancelled")
    booked_visit(booked_visit(owner_manager, barn=near_barn(**FAR)).practitioner, day=TUESDAY)
    other = choices(visit, business)[1]
    assert (other.visits, other.is_there_anyway) == (1, False)


@pytest.mark.parametrize("missing", ["barn", "base"])
def test_without_a_place_on_the_map_the_drive_is_not_known(visit, business, missing, as_owner_manager):
    if missing == "barn":
        visit.barn.lat = visit.barn.lon = None
        visit.barn.save()
    else:
        business.base_lat = business.base_lon = None
        business.save()
    assert choices(visit, business)[1].extra is None
    assert cost_of_moving(visit, TUESDAY, visit.practitioner, business) == ""
    assert "The drive is not known" in page(as_owner_manager, f"/visits/{visit.pk}/move/")


def test_other_barns_without_a_place_are_left_out(visit, business, owner_manager):
    booked_visit(owner_manager, barn=BarnFactory(lat=None, lon=None), day=TUESDAY)
    assert choices(visit, business)[1].extra == choices(visit, business)[0].extra


# Which days come first


def test_area_days_come_first_then_the_least_drive_and_closed_days_last(visit, business, owner_manager):
    visit.barn.area_days = "TH"
    visit.barn.save()
    for weekday in (1, 2, 3):
        BarnWindowFactory(barn=visit.barn, weekday=weekday)
    booked_visit(owner_manager, barn=near_barn(lat=39.44, lon=-104.66), day=date(2026, 3, 4))
    best = days_to_move_to(visit, visit.practitioner, business, MONDAY).best
    assert [offer.day for offer in best][:3] == [date(2026, 3, 5), date(2026, 3, 12), date(2026, 3, 19)]
    assert best[3].day == date(2026, 3, 4)
    assert not any(offer.choice.is_closed for offer in best)


def test_days_within_the_plans_tolerance_come_before_area_days(visit, business):
    version = GuidelineVersionFactory(tolerance_days=2)
    visit.plan = PlanFactory(animal=visit.animal, guideline_version=version)
    visit.planned_day = date(2026, 3, 4)
    visit.barn.area_days = "MO"
    visit.save()
    best = days_to_move_to(visit, visit.practitioner, business, MONDAY).best
    assert {offer.day for offer in best[:4]} == {date(2026, 3, day) for day in (3, 4, 5, 6)}
    assert best[4].tolerated is False


def test_its_own_day_is_offered_only_to_another_practitioner(visit, business, assistant):
    def days(who):
        offers = days_to_move_to(visit, who, business, MONDAY)
        return {offer.day for offer in (*offers.best, *offers.others)}

    assert MONDAY not in days(visit.practitioner)
    assert MONDAY in days(assistant)
    assert min(days(assistant)) == MONDAY


# The pages


def move(client, visit, day, *, weighed=True, starts="09:00"):
    who = visit.practitioner_id
    facts = {"day": day.isoformat(), "starts": starts, "practitioner": who, "machine": visit.machine_id}
    if weighed:
        facts["weighed"] = f"{day.isoformat()}/{who}"
    return client.post(f"/visits/{visit.pk}/move/", facts)


def test_a_day_is_saved_only_after_its_drive_was_shown(as_assistant, visit):
    response = move(as_assistant, visit, TUESDAY, weighed=False)
    text = unescape(response.content.decode())
    assert "more on Tue 3 Mar" in text
    assert "less on Mon 2 Mar: in all no more driving. Save again" in text
    visit.refresh_from_db()
    assert visit.day == MONDAY
    assert move(as_assistant, visit, TUESDAY).status_code == 302
    visit.refresh_from_db()
    assert visit.day == TUESDAY


def test_what_was_weighed_for_one_day_does_not_let_another_pass(as_assistant, visit):
    facts = {"day": "2026-03-04", "starts": "09:00", "practitioner": visit.practitioner_id}
    facts["weighed"] = f"2026-03-03/{visit.practitioner_id}"
    assert as_assistant.post(f"/visits/{visit.pk}/move/", facts).status_code == 200
    visit.refresh_from_db()
    assert visit.day == MONDAY


def test_another_time_of_the_same_day_costs_nothing_and_is_saved_at_once(as_assistant, visit):
    assert move(as_assistant, visit, MONDAY, weighed=False, starts="13:00").status_code == 302
    visit.refresh_from_db()
    assert visit.starts == time(13)


def test_a_chosen_day_is_filled_in_with_its_first_free_start(as_assistant, visit, owner_manager):
    booked_visit(owner_manager, barn=visit.barn, day=TUESDAY, starts=time(8))
    text = page(as_assistant, f"/visits/{visit.pk}/move/?day=2026-03-03")
    assert 'value="2026-03-03"' in text
    assert 'value="09:00"' in text
    assert "No more driving on Tue 3 Mar, 23" in text


@pytest.mark.parametrize("day", ["nonsense", "2026-02-31", "", "<script>"])
def test_a_day_that_is_none_shows_its_own(as_assistant, visit, day):
    assert 'value="2026-03-02"' in page(as_assistant, f"/visits/{visit.pk}/move/?day={day}")


def test_a_day_that_is_driven_anyway_saves_nothing(visit, business, owner_manager):
    booked_visit(owner_manager, barn=visit.barn)
    assert cost_of_moving(visit, TUESDAY, visit.practitioner, business).endswith("; nothing is saved on Mon 2 Mar.")


def test_a_refused_move_keeps_what_was_typed(as_assistant, visit):
    other = booked_visit(visit.practitioner, day=TUESDAY)
    response = move(as_assistant, visit, TUESDAY)
    assert response.status_code == 422
    assert f"{other.animal} at {other.barn}" in unescape(response.content.decode())
    assert 'value="2026-03-03"' in response.content.decode()


def test_the_diary_asks_what_each_day_would_cost(as_assistant, visit):
    answer = as_assistant.get(f"/visits/{visit.pk}/move/days/").json()
    assert answer["unknown"] == ""
    assert "2026-03-02" not in answer["days"]
    assert answer["days"]["2026-03-03"].endswith("more")


def test_the_diary_tells_the_script_where_a_visit_is_moved(as_assistant, as_bookkeeper, visit):
    assert f'data-move="/visits/{visit.pk}/move/"' in page(as_assistant, "/diary/")
    assert "data-move" not in page(as_bookkeeper, "/diary/")


def test_a_new_visit_of_a_horse_begins_with_the_days_that_suit(as_owner_manager, as_assistant, visit):
    text = page(as_owner_manager, f"/visits/new/?animal={visit.animal_id}")
    assert f'href="?animal={visit.animal_id}&day=2026-03-02"' in text
    assert "there anyway" in text
    assert "Days that suit" not in page(as_assistant, "/visits/new/")
    assert "Days that suit" not in page(as_assistant, "/visits/new/?animal=none")


def test_who_may_not_change_care_moves_nothing(client, as_bookkeeper, visit):
    for path in (f"/visits/{visit.pk}/move/", f"/visits/{visit.pk}/move/days/", "/visits/new/"):
        assert as_bookkeeper.get(path).status_code == 403
        assert client.get(path).status_code == 302


@pytest.mark.parametrize("rows", [1, 30])
def test_the_page_takes_the_same_queries_however_full_the_weeks(as_owner_manager, visit, rows, owner_manager):
    barns = [near_barn(lat=39.3 + number / 50) for number in range(5)]
    for number in range(rows):
        booked_visit(
            owner_manager, animal=ready_animal(barn=barns[number % 5]), day=TUESDAY + timedelta(days=number % 10)
        )
    with CaptureQueriesContext(
        connection,
    ) as queries:
        page(as_owner_manager, f"/visits/{visit.pk}/move/?day=2026-03-04")
    assert len(queries) == MOVE_QUERIES
