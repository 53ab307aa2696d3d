import pytest

from billing.quotes.suggestions import opening, suggest
from clients.plans.cadence import Phase

GUIDELINE = (Phase(28, full_every=3, spots_per_day=1),)


def names(guideline, days=28):
    return [suggestion.name for suggestion in suggest(guideline, days)]


def test_a_guideline_gives_itself_its_full_bodies_half_of_them_and_three_plain_rhythms():
    assert names(GUIDELINE) == [
        "The whole guideline",
        "Full bodies only",
        "Half as often",
        "Weekly",
        "Every other week",
        "Monthly",
    ]


def test_without_a_guideline_there_are_the_plain_rhythms():
    assert names(()) == ["Weekly", "Every other week", "Monthly"]


def test_schedules_that_are_the_same_come_once():
    assert names((Phase(28, full_every=7),)) == ["The whole guideline", "Half as often", "Monthly"]


def test_a_short_guideline_goes_on_to_the_end_of_the_term():
    whole = suggest((Phase(7, full_every=2), Phase(7, full_every=4)), 28)[0]
    assert [phase.days for phase in whole.phases] == [7, 21]


def test_phases_after_the_term_are_left_out():
    whole = suggest((Phase(14, full_every=2), Phase(14, full_every=4), Phase(14, full_every=7)), 28)[0]
    assert len(whole.phases) == 2


def test_no_option_has_more_than_four_phases():
    assert len(suggest((Phase(3, full_every=1),) * 6, 28)[0].phases) == 4


@pytest.mark.parametrize("days", [1, 28, 91, 730])
def test_plain_rhythms_fill_the_term(days):
    assert {phase.days for suggestion in suggest((), days) for phase in suggestion.phases} == {days}


def test_a_guideline_by_rule_keeps_its_rule():
    whole = suggest((Phase(56, full_rule="FREQ=MONTHLY;BYDAY=1MO", spots_per_day=0),), 56)[0]
    assert whole.phases[0].full_rule == "FREQ=MONTHLY;BYDAY=1MO"


def test_a_hire_follows_the_whole_guideline_and_is_looked_in_on_every_other_week():
    *_, hire = suggest(GUIDELINE, 28, hire=True)
    assert (hire.key, hire.is_hire, hire.follow_ups, hire.phases) == ("hire", True, 2, GUIDELINE)
    assert not any(each.is_hire for each in suggest((), 28, hire=True))


def test_a_draft_opens_with_three():
    assert [each.key for each in opening(suggest(GUIDELINE, 28))] == ["whole", "full", "weekly"]
    assert [each.key for each in opening(suggest((), 28))] == ["weekly", "fortnight", "monthly"]
