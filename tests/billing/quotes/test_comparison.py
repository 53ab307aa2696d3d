"""Options side by side: money, stops, coverage, the frontier and what is said about them."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.money.call_out import CallOut, Split
from billing.money.pricing import Break, Service, What
from billing.money.tax import Rounding, Tax
from billing.quotes.comparison import compare, frontier
from billing.quotes.request import HorsePlan, OtherStop
from clients.plans.cadence import Kind, OnDayOff, Phase
from tests.billing.quotes.requests import (
    HIRE,
    MONTHLY,
    START,
    THIRD_DAY,
    WEEKLY,
    WITH_SPOTS,
    D,
    hire,
    option,
    request,
    visits,
)


def measured(*plans, **changes):
    return compare(request(option("one", *plans), **changes)).options[0]


def money_of(result):
    return {horse.name: str(horse.money.total) for horse in result.horses}


def test_visits_are_stops_and_sessions_are_counted_for_each_horse():
    result = measured(visits(WEEKLY), visits(WEEKLY), owners=("One", "Two"))
    assert (result.visits, result.sessions, result.minutes) == (4, 8, 480)


def test_a_second_spot_of_a_day_is_a_drive_of_its_own():
    result = measured(visits(Phase(2, spots_per_day=2)))
    assert (result.visits, result.total) == (4, 4 * D("75.00"))


def test_horses_at_one_stop_share_its_call_out():
    result = measured(visits(THIRD_DAY), visits(WEEKLY), owners=("One", "Two"))
    # Together on days 0 and 21; alone on the 8 and 2 other days.
    assert money_of(result) == {
        "A": str(10 * D(95) + 2 * D(15) + 8 * D("30.00")),
        "B": str(4 * D(95) + 2 * D(15) + 2 * D("30.00")),
    }
    assert result.total == sum(owner.total for owner in result.owners)


def test_without_a_split_each_horse_pays_all_of_the_call_out():
    result = measured(visits(WEEKLY), visits(WEEKLY), owners=("One", "Two"), call_out=CallOut(D("30.00")))
    assert result.total == 8 * D("125.00")
    assert result.visits == 4


def test_splitting_by_owner_divides_first_by_owner():
    result = measured(*[visits(MONTHLY)] * 3, owners=("One", "Two", "Two"), call_out=CallOut(D("30.00"), Split.OWNER))
    assert money_of(result) == {"A": "110.00", "B": "102.50", "C": "102.50"}


def test_as_booked_counts_the_diary_at_the_first_part_of_its_date_only():
    others = (OtherStop(START, "Three", 2),)
    full = measured(visits(MONTHLY), others=others)
    spots = measured(visits(Phase(1, spots_per_day=2)), others=others)
    assert (full.total, full.total_as_booked) == (D("125.00"), D("105.00"))
    assert (spots.total, spots.total_as_booked) == (D("150.00"), D("130.00"))


def test_an_owner_in_the_quote_and_in_the_diary_is_one_owner():
    by_owner = CallOut(D("30.00"), Split.OWNER)
    result = measured(visits(MONTHLY), others=(OtherStop(START, "One", 1),), call_out=by_owner)
    assert result.total_as_booked == D("110.00")


def test_at_most_counts_only_the_owners_own_horses():
    result = measured(visits(WEEKLY), visits(WEEKLY), owners=("One", "Two"), others=(OtherStop(START, "Three", 8),))
    assert [(owner.total, owner.at_most) for owner in result.owners] == [(D("440.00"), D("500.00"))] * 2
    assert all(owner.total_as_booked < owner.total for owner in result.owners)


def test_odd_cents_go_to_the_horses_stated_first():
    result = measured(*[visits(MONTHLY)] * 3, owners=("One",) * 3, call_out=CallOut(D("10.00"), Split.HORSE))
    assert money_of(result) == {"A": "98.34", "B": "98.33", "C": "98.33"}


def test_breaks_count_what_remains_after_days_off():
    services = {Kind.FULL: Service(60, D("95.00"), (Break(4, D("80.00")),))}
    kept = measured(visits(WEEKLY), services=services)
    dropped = measured(visits(WEEKLY, off=["2026-03-09"], on_day_off=OnDayOff.DROP), services=services)
    assert kept.total == 4 * D("110.00")
    assert dropped.total == 3 * D("125.00")
    assert dropped.notices == ("A: The full body of Mon 9 Mar 2026 falls on a day off and is dropped.",)


def test_breaks_count_for_each_horse_by_itself():
    services = {Kind.FULL: Service(60, D("95.00"), (Break(6, D("10.00")),))}
    assert measured(visits(WEEKLY), visits(WEEKLY), owners=("One", "One"), services=services).lines[0].each == 95


def test_a_larger_number_that_costs_less_is_said():
    services = {Kind.FULL: Service(60, D("95.00"), (Break(6, D("70.00")),))}
    result = measured(visits(Phase(25, full_every=5)), services=services)
    assert result.notices == (
        "A: 6 cost less than 5: full body, 600.00 against 625.00, each with a call-out of its own.",
    )


def test_hire_visits_are_ours_and_its_sessions_the_owners():
    result = measured(hire(WITH_SPOTS))
    assert (result.visits, result.sessions, result.minutes, result.owner_minutes) == (3, 0, 0, 960)
    assert (result.total, result.per_session) == (D("1600.00"), None)
    assert result.coverage.percent == 100
    marks = [(session.on.day, session.kind, by) for session, by in result.horses[0].days.in_order()]
    assert marks[:3] == [(2, "training", "us"), (2, "full", "owner"), (3, "spot", "owner")]
    assert (11, "follow_up", "us") in marks
    assert (21, "follow_up", "us") in marks


def test_two_horses_by_hire_are_two_hires_that_share_their_stops():
    result = measured(hire(WITH_SPOTS), hire(WITH_SPOTS), owners=("One", "Two"))
    assert result.total == 2 * D("1510.00") + 3 * D("30.00")
    assert result.visits == 3


def test_a_training_visit_shares_its_stop_with_a_visit_of_another_horse():
    result = measured(visits(MONTHLY), hire(MONTHLY, follow_ups=0), owners=("One", "Two"))
    assert result.visits == 1
    assert money_of(result) == {"A": "110.00", "B": "1335.00"}


def test_days_off_move_follow_ups_but_not_training():
    result = measured(hire(WITH_SPOTS, off=["MO", "WE"], on_day_off=OnDayOff.NEXT))
    ours = [(session.on.day, session.kind) for session in result.horses[0].days.ours]
    assert ours == [(2, "training"), (12, "follow_up"), (21, "follow_up")]


def test_visits_and_hire_may_stand_together_for_one_horse():
    both = HorsePlan(visits=visits(WEEKLY).visits, hire=hire(WITH_SPOTS, follow_ups=0).hire)
    result = measured(both)
    # The training visit and the first full body are one stop of the same horse: one call-out.
    assert result.total == 4 * D("125.00") + D("1320.00")
    assert (result.visits, result.minutes, result.owner_minutes) == (4, 240, 960)


def test_delivery_is_charged_and_the_deposit_stands_beside_the_total():
    rates = replace(HIRE, delivery=D("40.00"), deposit=D("200.00"))
    result = measured(hire(WITH_SPOTS), hire=rates)
    assert (result.total, result.deposit) == (D("1640.00"), D("200.00"))
    assert "A: A deposit of 200.00 is paid and given back; it is not in the total." in result.notices


def test_break_even_is_told_for_each_kind():
    assert [(even.full, even.spot) for even in measured(hire(WITH_SPOTS)).break_evens] == [(13, 22)]


def test_tax_is_taken_of_each_owners_money_by_itself():
    rate = Tax(D("7"))
    cheap = {Kind.FULL: Service(60, D("0.08"))}
    plans = [visits(MONTHLY)] * 2
    together = measured(*plans, owners=("One", "One"), services=cheap, call_out=CallOut(), tax=rate)
    apart = measured(*plans, owners=("One", "Two"), services=cheap, call_out=CallOut(), tax=rate)
    assert together.total == D("0.17")
    assert apart.total == D("0.18")


def test_each_charge_is_a_line_of_tax():
    result = measured(
        visits(THIRD_DAY),
        services={Kind.FULL: Service(60, D("0.08"))},
        call_out=CallOut(),
        tax=Tax(D("7"), Rounding.LINE),
    )
    assert result.total == 10 * (D("0.08") + D("0.01"))


def test_included_tax_leaves_the_total_and_splits_the_horses_before_tax():
    result = measured(visits(WEEKLY), visits(MONTHLY), owners=("One", "One"), tax=Tax(D("20"), included=True))
    assert result.total == 5 * D("95.00") + 4 * D("30.00")
    assert sum(horse.money.total for horse in result.horses) == result.owners[0].net == D("495.83")
    assert What.TAX not in {line.what for line in result.lines}


def test_per_week_and_per_session_are_rounded_half_up():
    result = measured(visits(Phase(1, full_every=1)), days=30)
    assert result.per_week == D("29.17")
    assert measured(visits(THIRD_DAY)).per_session == D("125.00")


def test_the_gap_is_that_of_the_worst_horse_and_coverage_that_of_all():
    result = measured(visits(THIRD_DAY), visits(MONTHLY), owners=("One", "One"))
    assert result.longest_gap == 28
    assert result.covered == Fraction(660, 1920)


def test_without_a_guideline_nothing_is_covered_and_the_cheapest_is_the_frontier():
    result = compare(
        request(
            option("weekly", visits(WEEKLY)),
            option("monthly", visits(MONTHLY)),
            option("the same", visits(MONTHLY)),
            guideline=None,
        )
    )
    assert [each.covered for each in result.options] == [None] * 3
    assert [each.frontier for each in result.options] == [False, True, True]


def test_the_frontier_leaves_out_what_another_beats():
    points = [
        (D(800), Fraction(10, 100)),
        (D(1250), Fraction(62, 100)),
        (D(2600), Fraction(1)),
        (D(500), Fraction(25, 100)),
        (D(125), Fraction(6, 100)),
        (D(1600), Fraction(1)),
        (D(500), Fraction(25, 100)),
        (D(500), Fraction(20, 100)),
    ]
    assert sorted(frontier(points)) == [1, 3, 4, 5, 6]


@given(st.lists(st.tuples(st.integers(0, 9).map(Decimal), st.fractions(0, 1, max_denominator=9)), max_size=12))
def test_the_frontier_is_what_no_other_beats(points):
    def beaten(total, covered):
        return any(other <= total and more >= covered and (other < total or more > covered) for other, more in points)

    assert frontier(points) == {place for place, point in enumerate(points) if not beaten(*point)}


def test_an_option_that_does_not_name_every_horse_is_refused():
    with pytest.raises(ValueError, match="does not name every horse"):
        request(option("one", visits(WEEKLY)), owners=("One", "Two"))


def test_a_hire_without_hire_prices_is_refused():
    with pytest.raises(ValueError, match="no hire prices"):
        request(option("one", hire(WEEKLY)), hire=None)


def test_currencies_without_and_with_three_decimals_are_priced():
    yen = {Kind.FULL: Service(60, D("9500"))}
    dinar = {Kind.FULL: Service(60, D("9.500"))}
    weekly = [visits(WEEKLY)] * 3
    in_yen = measured(
        *weekly, owners=("One",) * 3, currency="JPY", services=yen, call_out=CallOut(D("1000"), Split.HORSE), hire=None
    )
    in_dinar = measured(
        *weekly,
        owners=("One",) * 3,
        currency="KWD",
        services=dinar,
        call_out=CallOut(D("1.000"), Split.HORSE),
        hire=None,
    )
    assert money_of(in_yen) == {"A": "39336", "B": "39332", "C": "39332"}
    assert money_of(in_dinar) == {"A": "39.336", "B": "39.332", "C": "39.332"}


def test_a_date_is_a_date_and_not_a_moment():
    assert type(measured(visits(WEEKLY)).horses[0].days.ours[0].on) is date
