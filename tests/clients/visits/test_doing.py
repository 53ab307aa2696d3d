from datetime import date, time, timedelta

import pytest

from backoffice.audit.queries import trail_of
from backoffice.refusal import Refused
from clients.paperwork.models import Decision, StopNote
from clients.visits.actions import (
    AreaDone,
    ArrivalSeen,
    SessionDone,
    book_visit,
    complete_visit,
    could_not_work,
    set_next_visit,
    skip_next_visit,
    stop_for_the_vet,
    write_visit_report,
)
from clients.visits.models import Visit
from tests.factories.clients import ApplicatorFactory, ServiceFactory
from tests.factories.paperwork import referral_for
from tests.factories.visits import MONDAY, VisitFactory, ready_visit, running_plan

pytestmark = pytest.mark.django_db
SEEN = ArrivalSeen(no_stop_sign=True)


@pytest.fixture(autouse=True)
def _open_for_business(business):
    """Permission reads the place of law from the profile."""


@pytest.fixture
def visit(now):
    return book_visit(visit=ready_visit(), starts=time(9, 0), at=now, by=None)


def test_work_beyond_the_places_that_the_vet_named_is_refused_at_the_barn_with_their_names(now):
    visit = ready_visit(service=ServiceFactory(kind="spot", minutes=20))
    visit = book_visit(visit=visit, starts=time(9, 0), spot_alone_reason="As she asked.", at=now, by=None)
    referral_for(visit.animal, places=["Withers"])
    with pytest.raises(Refused, match="planned beyond them: Girth"):
        complete_visit(visit=visit, arrival=SEEN, sessions=[session(visit)], at=now, by=None)
    withers = session(visit, areas=(AreaDone("Withers", 5),))
    done = complete_visit(visit=visit, arrival=SEEN, sessions=[withers], at=now, by=None)
    assert done.start_decision.facts["work"]["places"] == ["Withers"]


def session(visit, **changes):
    facts = {"service": visit.service, "areas": (AreaDone("Withers", 3), AreaDone("Girth", 4))} | changes
    return SessionDone(**facts)


def complete(visit, now, sessions=None, arrival=SEEN, **more):
    sessions = [session(visit)] if sessions is None else sessions
    return complete_visit(visit=visit, arrival=arrival, sessions=sessions, at=now, by=None, **more)


def test_completing_keeps_what_was_done_and_seen(visit, now):
    loop = ApplicatorFactory()
    done = session(
        visit,
        areas=(AreaDone("Withers", 3, applicator=loop, setting=4, reaction="softened"), AreaDone("Girth", 4)),
        ease_before=4,
        ease_after=7,
    )
    visit = complete(visit, now, [done], note="Calm today")
    kept = visit.sessions.get()
    assert (visit.status, visit.completed_at, visit.note) == (Visit.Status.COMPLETED, now, "Calm today")
    assert (kept.minutes, kept.ease_before, kept.ease_after) == (7, 4, 7)
    assert [(area.area, area.setting) for area in kept.areas.all()] == [("Withers", 4), ("Girth", None)]
    assert visit.arrival.no_stop_sign
    assert trail_of(visit).first().changes == {"sessions": 1, "minutes": 7}


def test_permission_is_decided_again_at_the_barns_door(visit, now):
    visit = complete(visit, now)
    assert visit.start_decision.door == Decision.Door.BARN
    assert visit.start_decision_id != visit.booking_decision_id


def test_a_horse_put_on_hold_since_is_not_completed(visit, now, owner_manager):
    StopNote.objects.create(animal=visit.animal, seen="Sweating", opened_at=now, opened_by=owner_manager)
    with pytest.raises(Refused, match="hold"):
        complete(visit, now)


def test_two_sessions_at_one_visit_are_both_kept(visit, now):
    massage = SessionDone(service=ServiceFactory(uses_machine=False), minutes=25)
    assert complete(visit, now, [session(visit), massage]).sessions.count() == 2


def test_completing_twice_is_refused(visit, now):
    complete(visit, now)
    with pytest.raises(Refused, match="Only a booked visit can be completed"):
        complete(visit, now)


def test_a_visit_is_not_completed_before_its_day(now):
    visit = VisitFactory(booked=True, day=MONDAY + timedelta(days=1))
    with pytest.raises(Refused, match="cannot be completed before that day"):
        complete(visit, now)


def test_a_stop_sign_stops_the_visit(visit, now):
    with pytest.raises(Refused, match="Stop and call the vet"):
        complete(visit, now, arrival=ArrivalSeen(no_stop_sign=False))


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"areas": (AreaDone("Withers", 900),)}, "from 1 to 120 minutes, not 900"),
        ({"areas": (AreaDone("Withers", 0),)}, "from 1 to 120 minutes, not 0"),
        ({"areas": tuple(AreaDone("Withers", 120) for _ in range(3))}, "from 1 to 300 minutes, not 360"),
        ({"areas": (AreaDone("  ", 3),)}, "Name the area"),
        ({"areas": (AreaDone("Withers", 3, setting=21),)}, "setting is a number from 1 to 20"),
        ({"areas": ()}, "from 1 to 300 minutes, not 0"),
        ({"ease_before": 11}, "from 0 to 10"),
        ({"ease_after": -1}, "from 0 to 10"),
    ],
)
def test_an_absurd_session_is_refused_and_nothing_is_kept(visit, now, changes, sentence):
    with pytest.raises(Refused, match=sentence):
        complete(visit, now, [session(visit, **changes)])
    visit.refresh_from_db()
    assert visit.status == Visit.Status.BOOKED
    assert not visit.sessions.exists()


def test_a_visit_without_a_session_is_refused(visit, now):
    with pytest.raises(Refused, match="at least one session"):
        complete(visit, now, [])


@pytest.mark.parametrize("words", ["هادئ اليوم", "🐴 calm", "<script>alert(1)</script>"])
def test_words_in_any_script_are_kept_and_reach_the_report(visit, now, words):
    visit = complete(visit, now, [session(visit, reaction=words)], note=words)
    assert visit.sessions.get().reaction == words
    assert write_visit_report(visit=visit, at=now, by=None).size > 1000


def test_the_report_is_written_once(visit, now):
    visit = complete(visit, now)
    document = write_visit_report(visit=visit, at=now, by=None)
    visit.refresh_from_db()
    assert visit.report == document
    with pytest.raises(Refused, match="report already"):
        write_visit_report(visit=visit, at=now, by=None)


def test_a_visit_that_is_not_completed_has_no_report(visit, now):
    with pytest.raises(Refused, match="Only a completed visit"):
        write_visit_report(visit=visit, at=now, by=None)


@pytest.mark.parametrize("cause", Visit.Cause.values)
def test_could_not_work_keeps_its_cause(visit, now, cause):
    visit = could_not_work(visit=visit, cause=cause, note="As seen", at=now, by=None)
    assert (visit.status, visit.cause, visit.note) == (Visit.Status.COULD_NOT_WORK, cause, "As seen")


def test_an_unknown_cause_and_a_closed_visit_are_refused(visit, now):
    with pytest.raises(Refused, match="Say why"):
        could_not_work(visit=visit, cause="bored", at=now, by=None)
    could_not_work(visit=visit, cause="wet", at=now, by=None)
    with pytest.raises(Refused, match="Only a booked visit"):
        could_not_work(visit=visit, cause="wet", at=now, by=None)


def test_stopping_for_the_vet_holds_the_horse(visit, now, owner_manager):
    visit = stop_for_the_vet(visit=visit, seen="10:05 Pawing, lying down", at=now, by=owner_manager)
    assert (visit.status, visit.cause) == (Visit.Status.COULD_NOT_WORK, Visit.Cause.UNWELL)
    assert StopNote.objects.get().seen == "10:05 Pawing, lying down"
    following = VisitFactory(animal=visit.animal, day=MONDAY + timedelta(days=3))
    with pytest.raises(Refused, match="hold"):
        book_visit(visit=following, starts=time(9, 0), at=now, by=owner_manager)


def test_stopping_takes_words(visit, now, owner_manager):
    with pytest.raises(Refused, match="what you see"):
        stop_for_the_vet(visit=visit, seen=" ", at=now, by=owner_manager)
    assert not StopNote.objects.exists()


def test_leaving_with_the_next_visit_pencils_it(visit, now):
    visit = complete(visit, now)
    following = set_next_visit(visit=visit, day=date(2026, 3, 9), service=visit.service, at=now, by=None)
    assert (following.status, following.day, following.practitioner) == (
        "pencilled",
        date(2026, 3, 9),
        visit.practitioner,
    )


def test_the_next_visit_of_a_plan_belongs_to_it_while_it_lasts(now):
    plan = running_plan()
    visit = VisitFactory(animal=plan.animal, plan=plan, completed=True)
    inside = set_next_visit(visit=visit, day=date(2026, 3, 9), service=visit.service, at=now, by=None)
    after = set_next_visit(visit=visit, day=date(2026, 4, 20), service=visit.service, at=now, by=None)
    assert (inside.plan, after.plan) == (plan, None)


def test_leaving_without_a_date_takes_a_reason(visit, now):
    visit = complete(visit, now)
    with pytest.raises(Refused, match="call list"):
        skip_next_visit(visit=visit, reason="", at=now, by=None)
    visit = skip_next_visit(visit=visit, reason="Owner travels", at=now, by=None)
    assert visit.call_list_reason == "Owner travels"


def test_the_next_visit_is_set_only_when_this_one_is_over(visit, now):
    with pytest.raises(Refused, match="when this one is over"):
        set_next_visit(visit=visit, day=date(2026, 3, 9), service=visit.service, at=now, by=None)
    with pytest.raises(Refused, match="when this one is over"):
        skip_next_visit(visit=visit, reason="Owner travels", at=now, by=None)


def test_the_next_visit_is_after_this_one(visit, now):
    with pytest.raises(Refused, match="after Mon 2 Mar 2026"):
        set_next_visit(visit=complete(visit, now), day=MONDAY, service=visit.service, at=now, by=None)
