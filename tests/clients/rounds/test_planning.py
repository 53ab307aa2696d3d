"""The planner on the diary: a proposal that moves nothing by itself, taken in whole or by line."""

from datetime import date, timedelta
from html import unescape

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from backoffice.refusal import Refused
from clients.rounds import planning
from clients.rounds.models import PlanningRun, ProposedMove
from clients.rounds.planning import accept_lines, carry_out, start_planning, stop_planning
from clients.rounds.vehicle_search import Effort
from clients.rounds.weeks import weeks_of
from clients.visits.models import Visit
from clients.workdays.models import Absence
from tests.factories.clients import BarnFactory, BarnWindowFactory, GuidelineVersionFactory
from tests.factories.paperwork import ready_animal
from tests.factories.plans import PlanFactory
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY, VisitFactory, spot

pytestmark = pytest.mark.django_db
TUESDAY, WEDNESDAY, THURSDAY = (MONDAY + timedelta(days=days) for days in (1, 2, 3))
PLANNING_QUERIES = 6


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now, monkeypatch):
    business.refresh_from_db()
    monkeypatch.setattr(planning, "Effort", lambda iterations=0, **fields: Effort(300, **fields))
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def barn():
    return near_barn(name="Copper Hasp")


@pytest.fixture
def version():
    return GuidelineVersionFactory(tolerance_days=1)


def pencilled(practitioner, barn, version, day, **fields) -> Visit:
    animal = fields.pop("animal", None) or ready_animal(barn=barn)
    plan = PlanFactory(animal=animal, guideline_version=version)
    return VisitFactory(
        animal=animal,
        practitioner=practitioner,
        plan=plan,
        day=day,
        planned_day=fields.pop("planned_day", day),
        **fields,
    )


def run_of(practitioner, now, weeks=2) -> PlanningRun:
    run = start_planning(weeks=weeks, people=[practitioner], at=now, by=practitioner)
    run.refresh_from_db()
    return run


def moves_of(run) -> dict[str, date]:
    return {move.visit.animal.name: move.to_day for move in run.moves.select_related("visit__animal")}


# The proposal


def test_a_pencilled_visit_is_proposed_where_we_are_booked_anyway(owner_manager, barn, version, now):
    booked = booked_visit(owner_manager, barn=barn, day=WEDNESDAY)
    visit = pencilled(owner_manager, barn, version, TUESDAY)
    run = run_of(owner_manager, now)
    assert moves_of(run) == {visit.animal.name: WEDNESDAY}
    assert run.minutes_saved > 0
    assert run.metres_saved > 0
    for each in (booked, visit):
        before = each.day
        each.refresh_from_db()
        assert each.day == before


def test_spots_booked_visits_and_those_without_a_plan_stay(owner_manager, barn, version, now):
    booked_visit(owner_manager, barn=barn, day=WEDNESDAY)
    booked_visit(owner_manager, barn=barn, day=TUESDAY)
    pencilled(owner_manager, barn, version, THURSDAY, service=spot())
    VisitFactory(practitioner=owner_manager, animal=ready_animal(barn=barn), day=THURSDAY + timedelta(days=4))
    assert moves_of(run_of(owner_manager, now)) == {}


def test_visits_of_one_barn_that_move_together_are_one_line(owner_manager, barn, version, now):
    booked_visit(owner_manager, barn=barn, day=WEDNESDAY)
    for _ in range(2):
        pencilled(owner_manager, barn, version, TUESDAY)
    run = run_of(owner_manager, now)
    assert {move.line for move in run.moves.all()} == {1}
    assert run.moves.count() == 2


def test_a_day_away_and_a_closed_barn_are_not_proposed(owner_manager, barn, version, now):
    booked_visit(owner_manager, barn=barn, day=WEDNESDAY)
    pencilled(owner_manager, barn, version, TUESDAY)
    Absence.objects.create(practitioner=owner_manager, since=WEDNESDAY, until=WEDNESDAY)
    assert moves_of(run_of(owner_manager, now)) == {}
    Absence.objects.all().delete()
    BarnWindowFactory(barn=barn, weekday=1)
    assert moves_of(run_of(owner_manager, now)) == {}


def test_what_has_no_place_is_listed_with_its_reason_and_stays(owner_manager, barn, version, now):
    away = pencilled(owner_manager, barn, version, TUESDAY)
    Absence.objects.create(practitioner=None, since=MONDAY, until=WEDNESDAY)
    astray = pencilled(owner_manager, BarnFactory(lat=None, lon=None), version, THURSDAY)
    found = {row["visit"]: row["why"] for row in run_of(owner_manager, now).unplaced}
    assert found[away.pk] == "Nobody works on any of the days that its plan tolerates."
    assert "not on the map" in found[astray.pk]


def test_a_visit_moved_by_hand_beyond_its_tolerance_may_stay(owner_manager, barn, version, now):
    pencilled(owner_manager, barn, version, THURSDAY + timedelta(days=3), planned_day=TUESDAY)
    assert run_of(owner_manager, now).unplaced == []


@pytest.mark.parametrize("weeks", [1, 5])
def test_two_to_four_weeks_are_planned(owner_manager, now, weeks):
    with pytest.raises(Refused, match="Two to four weeks"):
        run_of(owner_manager, now, weeks=weeks)


def test_what_cannot_be_planned_is_refused(owner_manager, barn, business, now):
    with pytest.raises(Refused, match="Nothing is pencilled"):
        run_of(owner_manager, now)
    with pytest.raises(Refused, match="Choose at least one"):
        start_planning(weeks=2, people=[], at=now, by=owner_manager)
    business.base_lat = None
    business.save()
    with pytest.raises(Refused, match="Where does the day begin"):
        run_of(owner_manager, now)


def test_the_weeks_are_read_in_the_same_queries_however_full(
    owner_manager, business, version, django_assert_num_queries
):
    for number in range(12):
        pencilled(owner_manager, near_barn(lat=39.4 + number / 100), version, TUESDAY + timedelta(days=number % 9))
    with django_assert_num_queries(5):
        weeks_of(TUESDAY, 14, [owner_manager], business)


# The search as it goes


def test_a_search_that_fails_says_so(owner_manager, barn, version, now, monkeypatch):
    pencilled(owner_manager, barn, version, TUESDAY)
    run = run_of(owner_manager, now)

    def broken(*_):
        raise ZeroDivisionError

    monkeypatch.setattr(planning, "plan_days", broken)
    with pytest.raises(ZeroDivisionError):
        carry_out(run.pk)
    run.refresh_from_db()
    assert run.state == PlanningRun.State.FAILED


def test_a_search_is_stopped_and_keeps_the_best_so_far(owner_manager, barn, version, now, monkeypatch):
    booked_visit(owner_manager, barn=barn, day=WEDNESDAY)
    pencilled(owner_manager, barn, version, TUESDAY)
    run = run_of(owner_manager, now)
    run.moves.all().delete()
    PlanningRun.objects.filter(pk=run.pk).update(state="running", stop_asked=True)
    monkeypatch.setattr(planning, "SAYS_EVERY", 0)
    carry_out(run.pk)
    run.refresh_from_db()
    assert (run.state, run.percent_done) == (PlanningRun.State.STOPPED, 100)


def test_a_search_that_ended_is_not_stopped(owner_manager, barn, version, now):
    pencilled(owner_manager, barn, version, TUESDAY)
    with pytest.raises(Refused, match="ended already"):
        stop_planning(run=run_of(owner_manager, now), at=now, by=owner_manager)


# Taking it


@pytest.fixture
def two_lines(owner_manager, barn, version, now) -> PlanningRun:
    far = near_barn(name="Old Cistern", lat=39.7)
    for place, day in ((barn, WEDNESDAY), (far, THURSDAY)):
        booked_visit(owner_manager, barn=place, day=day)
        pencilled(
            owner_manager, place, version, day - timedelta(days=1), animal=ready_animal(name=place.name, barn=place)
        )
    return run_of(owner_manager, now)


def test_one_line_is_taken_and_the_other_stays_open(two_lines, owner_manager, now):
    assert moves_of(two_lines) == {"Old Cistern": THURSDAY, "Copper Hasp": WEDNESDAY}
    assert accept_lines(run=two_lines, lines={1}, at=now, by=owner_manager) == {"accepted": 1, "left": 0}
    first, second = two_lines.moves.select_related("visit")
    assert (first.visit.day, first.state) == (first.to_day, ProposedMove.State.ACCEPTED)
    assert (second.visit.day, second.state) == (second.from_day, ProposedMove.State.OPEN)


def test_a_visit_changed_since_stays_and_says_so(two_lines, owner_manager, now):
    visit = two_lines.moves.first().visit
    Visit.objects.filter(pk=visit.pk).update(day=THURSDAY + timedelta(days=5))
    assert accept_lines(run=two_lines, lines={1, 2}, at=now, by=owner_manager) == {"accepted": 1, "left": 1}
    assert two_lines.moves.get(visit=visit).why_left == "It was booked, moved or called off since."


def test_a_day_gone_by_meanwhile_is_left(two_lines, owner_manager, now):
    counts = accept_lines(run=two_lines, lines={1, 2}, at=now + timedelta(days=6), by=owner_manager)
    assert counts == {"accepted": 0, "left": 2}
    assert "is past" in two_lines.moves.first().why_left


def test_nothing_ticked_is_refused(two_lines, owner_manager, now):
    with pytest.raises(Refused, match="Tick at least one line"):
        accept_lines(run=two_lines, lines=set(), at=now, by=owner_manager)


# The pages


def test_the_whole_way_as_an_assistant(as_assistant, owner_manager, barn, version):
    booked_visit(owner_manager, barn=barn, day=WEDNESDAY)
    visit = pencilled(owner_manager, barn, version, TUESDAY)
    page = as_assistant.post("/diary/planner/", {"weeks": "2", "people": [owner_manager.pk]}, follow=True)
    text = unescape(page.content.decode())
    assert "less driving" in text
    assert "Copper Hasp: Tue 3 Mar to" in text
    assert "What is booked stays on its day." in text
    run = PlanningRun.objects.get()
    page = as_assistant.post(f"{run.get_absolute_url()}accept/", {"line": ["1", "x", "99"]}, follow=True)
    assert "1 visit moved." in page.content.decode()
    visit.refresh_from_db()
    assert visit.day == WEDNESDAY
    assert "14 days from" in as_assistant.get("/diary/planner/").content.decode()


def test_a_running_search_shows_how_far_it_is_and_looks_again(as_assistant, two_lines):
    PlanningRun.objects.update(state="running", percent_done=42)
    page = as_assistant.get(two_lines.get_absolute_url())
    assert (page["Refresh"], "42 %" in page.content.decode()) == ("2", True)
    as_assistant.post(f"{two_lines.get_absolute_url()}stop/")
    two_lines.refresh_from_db()
    assert two_lines.stop_asked


def test_a_search_that_was_cut_off_says_so(as_assistant, two_lines, now):
    PlanningRun.objects.update(state="running", seen_at=now - timedelta(minutes=5))
    page = as_assistant.get(two_lines.get_absolute_url())
    assert "The search was cut off." in page.content.decode()
    assert "Refresh" not in page.headers


@pytest.mark.parametrize("posted", [{"weeks": "9"}, {"weeks": "2"}, {"weeks": "2", "people": ["999"]}])
def test_a_form_that_cannot_be_gets_a_sentence(as_assistant, posted):
    assert as_assistant.post("/diary/planner/", posted).status_code == 422


def test_a_bookkeeper_reads_and_changes_nothing_and_a_stranger_signs_in(client, as_bookkeeper, two_lines):
    path = two_lines.get_absolute_url()
    assert as_bookkeeper.get(path).status_code == 200
    assert as_bookkeeper.get("/diary/planner/").status_code == 403
    for way in ("stop", "accept"):
        assert as_bookkeeper.post(f"{path}{way}/").status_code == 403
        assert client.post(f"{path}{way}/").status_code == 302


@pytest.mark.parametrize("rows", [1, 20])
def test_the_page_takes_the_same_queries_however_long_the_proposal(as_owner_manager, two_lines, owner_manager, rows):
    ProposedMove.objects.bulk_create(
        ProposedMove(
            run=two_lines,
            line=number + 3,
            visit=booked_visit(owner_manager),
            from_day=MONDAY,
            to_day=TUESDAY,
            seconds_saved=60,
        )
        for number in range(rows)
    )
    with CaptureQueriesContext(connection) as queries:
        as_owner_manager.get(two_lines.get_absolute_url())
    assert len(queries) == PLANNING_QUERIES
