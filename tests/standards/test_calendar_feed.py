"""The diary's feed read back by the reference library `icalendar`, against RFC 5545 (September 2009)."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine
from icalendar import Calendar

from clients.visits.actions import book_visit, cancel_visit, move_visit, pencil_visit
from clients.visits.feed import feed_of
from clients.visits.models import Visit
from tests.factories.clients import BarnFactory
from tests.factories.paperwork import ready_animal
from tests.factories.visits import MONDAY, VisitFactory, ready_visit

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        yield


def events(visit: Visit, business, now) -> list:
    return Calendar.from_ical(feed_of(visit.practitioner, business, at=now)).events


def test_the_object_names_its_version_and_product(business, now):
    """§3.7.3 and §3.7.4: both are required, once."""
    found = Calendar.from_ical(feed_of(VisitFactory().practitioner, business, at=now))
    assert (str(found["version"]), str(found["prodid"]).startswith("-//")) == ("2.0", True)


def test_a_visit_keeps_its_uid_while_its_sequence_rises_with_each_change(business, now):
    """§3.8.4.7: globally unique and persistent; §3.8.7.4: the sequence rises with each significant revision."""
    visit = ready_visit()
    pencilled = pencil_visit(
        animal=ready_animal(), service=visit.service, practitioner=visit.practitioner, machine=visit.machine,
        day=MONDAY, at=now, by=None,
    )  # fmt: skip
    seen = []
    for change in (
        lambda at: book_visit(visit=pencilled, starts=time(9), at=at, by=None),
        lambda at: move_visit(visit=pencilled, day=MONDAY + timedelta(days=1), starts=time(10), at=at, by=None),
        lambda at: cancel_visit(visit=pencilled, reason="Owner away", at=at, by=None),
    ):
        at = now + timedelta(hours=len(seen))
        change(at)
        event = next(each for each in events(visit, business, now) if f"visit-{pencilled.pk}@" in each["uid"])
        seen.append((str(event["uid"]), event["sequence"], str(event["status"]), event["last-modified"].dt))
    assert len({uid for uid, *_ in seen}) == 1
    assert [sequence for _, sequence, *_ in seen] == [1, 2, 3]
    assert [status for _, _, status, _ in seen] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    assert [changed for *_, changed in seen] == [now + timedelta(hours=hours) for hours in range(3)]


def test_no_two_visits_share_a_uid(business, now):
    first = VisitFactory()
    VisitFactory(practitioner=first.practitioner)
    assert len({str(event["uid"]) for event in events(first, business, now)}) == 2


def test_a_pencilled_visit_is_tentative_and_takes_the_day(business, now):
    """§3.8.1.11 for the status; §3.6.1: a DATE start with a DATE end, which is not included."""
    [event] = events(VisitFactory(), business, now)
    assert str(event["status"]) == "TENTATIVE"
    assert (event["dtstart"].dt, event["dtend"].dt) == (MONDAY, MONDAY + timedelta(days=1))


@pytest.mark.parametrize(
    ("day", "starts"),
    [
        (date(2026, 3, 7), datetime(2026, 3, 7, 16, tzinfo=UTC)),
        (date(2026, 3, 9), datetime(2026, 3, 9, 15, tzinfo=UTC)),
    ],
    ids=["winter time", "summer time"],
)
def test_times_are_moments_on_both_sides_of_the_change_of_the_clock(business, now, day, starts):
    """§3.3.5, form 2. Nine in Denver is 16:00 UTC before Sunday 8 March 2026 and 15:00 after (tz database)."""
    [event] = events(VisitFactory(booked=True, day=day), business, now)
    assert (event["dtstart"].dt, event["dtend"].dt) == (starts, starts + timedelta(hours=1))


def test_lines_are_folded_at_75_octets_and_end_in_crlf(business, now):
    """§3.1: no line is longer than 75 octets without its break, in whatever script the name is."""
    visit = VisitFactory(animal=ready_animal(name="هادئ 🐴 " * 9))
    lines = feed_of(visit.practitioner, business, at=now).split(b"\r\n")
    assert b"\n" not in b"".join(lines)
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    [event] = events(visit, business, now)
    assert str(event["summary"]).startswith("هادئ 🐴 هادئ")


def test_commas_semicolons_backslashes_and_breaks_come_back_as_they_were(business, now):
    """§3.3.11: they are escaped in TEXT; nothing that is typed can end a property and begin another."""
    address = "1, Lane; back\\gate\r\nBEGIN:VEVENT\nCounty"
    visit = VisitFactory(animal=ready_animal(barn=BarnFactory(name="Hasp; North", address=address)))
    [event] = events(visit, business, now)
    assert str(event["location"]).replace("\r\n", "\n") == f"Hasp; North, {address}".replace("\r\n", "\n")
