from datetime import timedelta

from billing.quotes.comparison import compare
from billing.quotes.strip import LONGEST_STRIP, strips_of
from clients.plans.cadence import Phase
from tests.billing.quotes.requests import START, THIRD_DAY, WEEKLY, WITH_SPOTS, hire, option, request, visits


def strips(*plans, days=28, owners=("One",)):
    (measures,) = compare(request(option("It", *plans), owners=owners, days=days)).options
    return strips_of(measures, START, days)


def test_each_day_is_a_mark_that_says_what_happens():
    (strip,) = strips(visits(WITH_SPOTS))
    assert [day.kind for day in strip.days[:4]] == ["full", "spot", "spot", "full"]
    assert {day.by for day in strip.days} == {"us"}
    assert strip.days[0].label == "Mon 2 Mar 2026: full body"
    assert len(strip.days) == 28


def test_a_day_without_a_session_is_none():
    (strip,) = strips(visits(WEEKLY))
    assert [day.kind for day in strip.days[:8]] == ["full", *["none"] * 6, "full"]
    assert strip.days[1].label == "Tue 3 Mar 2026: no session"


def test_two_spots_of_a_day_are_two():
    (strip,) = strips(visits(Phase(28, full_every=7, spots_per_day=2)))
    assert strip.days[1].kind == "two"


def test_a_hire_draws_all_of_the_owner_s_own_sessions():
    (strip,) = strips(hire(WITH_SPOTS))
    given = [day for day in strip.days if day.kind != "none"]
    assert len(given) == 28
    assert {day.by for day in given} == {"owner"}


def test_a_training_on_a_day_of_the_owner_s_does_not_make_the_session_ours():
    (strip,) = strips(hire(WITH_SPOTS))
    first = strip.days[0]
    assert (first.kind, first.by) == ("full attended", "owner")
    assert first.label == "Mon 2 Mar 2026: training visit and full body by the owner"


def test_a_follow_up_alone_is_a_visit_of_ours():
    (strip,) = strips(hire(WEEKLY, follow_ups=1))
    assert (strip.days[14].kind, strip.days[14].by) == ("full attended", "owner")
    (strip,) = strips(hire(Phase(28, full_every=10), follow_ups=1))
    assert (strip.days[14].kind, strip.days[14].by) == ("visit", "us")


def test_horses_with_the_same_days_share_a_strip():
    same = strips(visits(THIRD_DAY), visits(THIRD_DAY), visits(WEEKLY), owners=("One", "Two", "Three"))
    assert [strip.horses for strip in same] == [("A", "B"), ("C",)]


def test_a_long_term_is_drawn_in_part():
    (strip,) = strips(visits(Phase(365, full_every=7)), days=365)
    assert len(strip.days) == LONGEST_STRIP
    assert strip.days[-1].label.startswith(f"{START + timedelta(days=LONGEST_STRIP - 1):%a}")
