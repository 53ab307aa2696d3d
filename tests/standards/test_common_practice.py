"""Facts of the trade as check values: common practice, no published source. Never a guideline, never on paper."""

from datetime import date

import pytest

from backoffice.business.models import Business
from clients.animals.areas import FULL_BODY, USUAL_MINUTES
from clients.plans.cadence import DaysOff, Kind, OnDayOff, Phase, Schedule
from clients.plans.coverage import Guideline, cover
from clients.visits.forms import SheetForm
from clients.visits.models import StopList
from clients.visits.stop_lists import LISTS

START = date(2026, 3, 2)


def marks(phase):
    letters = {Kind.FULL: "F", Kind.SPOT: "S"}
    return "".join(letters[each.kind] for each in phase.sessions(START))


# Common practice, no published source: day 0 full body, days 1 and 2 spot, and round again.
def test_the_starting_rhythm_is_a_full_body_and_two_spot_days():
    assert marks(Phase(9, full_every=3, spots_per_day=1)) == "FSSFSSFSS"


# Common practice, no published source: twice ten minutes a day is the ideal that few can drive to.
def test_twice_ten_minutes_a_day_is_twenty_minutes_and_two_drives():
    sessions = list(Phase(7, spots_per_day=2).sessions(START))
    assert len(sessions) * 10 == 140
    assert len({(each.on, each.part) for each in sessions}) == 14


# Common practice, no published source: 20 to 30 minutes, once or twice daily.
@pytest.mark.parametrize(("times", "minutes", "a_week"), [(1, 20, 140), (2, 20, 280), (1, 30, 210), (2, 30, 420)])
def test_short_sessions_once_or_twice_daily_add_up(times, minutes, a_week):
    sessions = list(Phase(7, spots_per_day=times).sessions(START))
    assert len(sessions) * minutes == a_week


# Common practice, no published source: a spot leans on a full body not long before, by default within 3 days.
def test_spots_lean_on_a_full_body_within_three_days():
    schedule = Schedule((Phase(1, full_every=1), Phase(9, spots_per_day=1)))
    guideline = Guideline((Phase(10, full_every=3, spots_per_day=1),))
    result = cover(
        guideline,
        guideline.sessions(START, 10),
        schedule.expand(START).sessions,
        {Kind.FULL: 60, Kind.SPOT: 20},
    )
    assert [(day - START).days for day in result.uncounted] == [4, 5, 6, 7, 8, 9]


# Common practice, no published source: full bodies wait for open days, spots go with them. A Sunday off moves the
# full body of day 6 to Monday, where it takes the place of that day's spot.
def test_the_starting_rhythm_with_sundays_off_keeps_every_full_body():
    schedule = Schedule((Phase(9, full_every=3, spots_per_day=1),), DaysOff.of(["SU"]), OnDayOff.NEXT)
    found = schedule.expand(START)
    assert [(each.on - START).days for each in found.sessions if each.kind == Kind.FULL] == [0, 3, 7]
    assert found.notices == ("The spot of Mon 9 Mar 2026 is absorbed by the full body of Mon 9 Mar 2026.",)


# Common practice, no published source: an acute short course is dense for a few weeks, upkeep afterwards is not.
def test_a_dense_fortnight_and_upkeep_after_it_follow_each_other():
    schedule = Schedule((Phase(14, full_every=3, spots_per_day=2), Phase(84, full_every=28)))
    sessions = schedule.expand(START).sessions
    full = [(each.on - START).days for each in sessions if each.kind == Kind.FULL]
    assert full == [0, 3, 6, 9, 12, 14, 42, 70]
    assert sum(each.kind == Kind.SPOT for each in sessions) == 18


# Common practice, no published source: about three minutes a place, from the forehand to the back, then the hind limb,
# the lower legs last; the head only if the horse accepts it.
def test_the_places_of_a_full_body_and_their_usual_minutes():
    assert USUAL_MINUTES == 3
    assert list(dict.fromkeys(area.group.split(",")[0] for area in FULL_BODY)) == [
        "Forehand",
        "Head",
        "Back",
        "Croup and hind limb",
        "Lower legs last",
    ]
    assert [area.name for area in FULL_BODY if not area.is_offered] == ["Head and poll"]


# Common practice, no published source: phones, keys and cards 18 inches (46 cm) from a running machine.
def test_phones_and_keys_stay_eighteen_inches_away():
    assert round(18 * 2.54) == 46
    assert "18 in (46 cm)" in LISTS[StopList.Kind.SET_UP]["away"]
    assert "18 in (46 cm)" in str(SheetForm.base_fields["electronics_away"].label)


# Common practice, no published source: first the applicator on the near shoulder, silent; then the weakest setting;
# weaker again towards the head. A default that the practitioner may write anew.
def test_the_first_session_begins_silent_at_the_near_shoulder():
    first, then, head = Business().first_session_words.splitlines()
    assert "near shoulder" in first
    assert "silent" in first
    assert "weakest setting" in then
    assert "towards the head" in head
