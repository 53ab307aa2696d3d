from datetime import date

from clients.plans.cadence import Kind, Phase, PlannedSession, lay
from clients.plans.strip import strip_of

MONDAY = date(2026, 3, 2)


def test_each_day_has_one_mark():
    phases = (Phase(days=6, full_every=3, spots_per_day=1),)
    marks = strip_of(lay(phases, MONDAY, 6), MONDAY, 7)
    assert [day.kind for day in marks] == ["full", "spot", "spot", "full", "spot", "spot", "none"]


def test_two_spots_of_a_day_are_one_double_mark():
    phases = (Phase(days=2, full_every=2, spots_per_day=2),)
    marks = strip_of(lay(phases, MONDAY, 2), MONDAY, 2, by="owner")
    assert [(day.kind, day.by) for day in marks] == [("full", "owner"), ("two", "owner")]


def test_the_label_says_the_day_in_words():
    (mark,) = strip_of([PlannedSession(MONDAY, Kind.FULL)], MONDAY, 1)
    assert mark.label == "Mon 2 Mar 2026: full body"
