"""Phases drawn as strips, and what changed between two versions."""

from datetime import date

from clients.plans.cadence import Phase
from clients.plans.changes import Wording, changes
from clients.plans.drawing import draw

MONDAY = date(2026, 3, 2)


def test_each_phase_is_drawn_with_its_days_and_words():
    drawing = draw([Phase(6, full_every=3, spots_per_day=1), Phase(14, full_every=14)], MONDAY)
    assert [(phase.first, phase.last) for phase in drawing.phases] == [(1, 6), (7, 20)]
    assert [day.kind for day in drawing.phases[0].days] == ["full", "spot", "spot", "full", "spot", "spot"]
    assert drawing.phases[1].words == "a full body every 14 days"
    assert drawing.sums == "3 full bodies and 4 spots in 20 days"
    assert not drawing.is_cut


def test_years_of_phases_are_counted_whole_and_drawn_in_part():
    drawing = draw([Phase(100, full_every=1), Phase(730, full_every=365), Phase(730)], MONDAY)
    assert [len(phase.days) for phase in drawing.phases] == [100, 12, 0]
    assert drawing.sums == "102 full bodies in 1560 days"
    assert drawing.is_cut


def test_an_event_is_counted_from_the_last_full_body():
    drawing = draw([Phase(6, full_every=3, spots_per_day=1)], MONDAY)
    assert drawing.before_event(1) == (
        "The last full body, on day 4, falls 1 day before the event: it starts 4 days before it."
    )
    assert draw([Phase(6, spots_per_day=1)], MONDAY).before_event(1) == ""


def test_nothing_is_drawn_of_nothing():
    assert draw([], MONDAY).sums == "no session in 0 days"


def test_changes_name_phases_that_are_new_gone_or_other_and_facts_that_differ():
    before = Wording(("6 days: a", "7 days: b"), (("Days early or late", "1"), ("Needs the vet", "no")))
    after = Wording(("6 days: a", "7 days: c", "8 days: d"), (("Days early or late", "1"), ("Needs the vet", "yes")))
    assert changes(before, after) == [
        "Phase 2: was “7 days: b”, now “7 days: c”.",
        "Phase 3 is new: “8 days: d”.",
        "Needs the vet: was “no”, now “yes”.",
    ]
    assert changes(after, before)[1] == "Phase 3 is gone: “8 days: d”."
    assert changes(after, after) == []
