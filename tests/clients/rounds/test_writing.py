"""The lines to write on: the visit sheet's facts for each visit that is still to be done."""

from datetime import date, time

from clients.animals.areas import FULL_BODY
from clients.rounds.writing import writing_context
from clients.visits.models import Session, SessionArea
from tests.conftest import NOW
from tests.factories.clients import CautionFactory, ServiceFactory
from tests.factories.rounds import booked_visit
from tests.factories.visits import MONDAY, VisitFactory


def names(block) -> list[str]:
    return [line.name for line in block.lines]


def test_a_full_body_has_every_place_in_its_order_and_room_for_another(owner_manager):
    visit = booked_visit(owner_manager, service=ServiceFactory(kind="full"))
    (block,) = writing_context([visit], MONDAY)["blocks"]
    assert names(block) == [*(area.name for area in FULL_BODY), ""]
    assert [left.name for left, _ in block.rows] + [right.name for _, right in block.rows] == names(block)


def test_what_was_worked_last_time_and_a_caution_stand_at_their_places(owner_manager):
    visit = booked_visit(owner_manager, service=ServiceFactory(kind="spot", minutes=20))
    CautionFactory(animal=visit.animal, area="Near hock", said_on=date(2026, 2, 1))
    before = VisitFactory(animal=visit.animal, completed=True, day=date(2026, 2, 20))
    session = Session.objects.create(visit=before, service=before.service, minutes=20, ease_after=6)
    for position, area in enumerate(("Hocks", "Stifles", "Loins")):
        SessionArea.objects.create(session=session, area=area, minutes=5, position=position)
    (block,) = writing_context([visit], MONDAY)["blocks"]
    assert names(block) == ["Hocks", "Stifles", "Loins", *[""] * 5]
    assert [(line.is_careful, line.last) for line in block.lines[:3]] == [(True, 5), (False, 5), (False, 5)]
    assert block.last == session


def test_a_visit_that_is_done_needs_no_line(owner_manager):
    done = booked_visit(owner_manager, completed=True, starts=time(8), completed_at=NOW)
    assert writing_context([done], MONDAY)["blocks"] == []


def test_the_lines_take_the_same_queries_at_1_and_at_12_visits(owner_manager, django_assert_num_queries):
    for count in (1, 12):
        visits = [booked_visit(owner_manager, starts=time(8 + n)) for n in range(count)]
        for visit in visits:
            before = VisitFactory(animal=visit.animal, completed=True, day=date(2026, 2, 20))
            Session.objects.create(visit=before, service=before.service, minutes=20)
        with django_assert_num_queries(4):
            writing_context(visits, MONDAY)
