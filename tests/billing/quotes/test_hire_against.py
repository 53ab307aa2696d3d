"""Hire against visits: the worked table's figures side by side, and both break-evens."""

from dataclasses import replace
from fractions import Fraction

import pytest

from billing.money.tax import Tax
from billing.quotes.hire_against import side_by_side
from tests.billing.quotes.requests import HIRE, THIRD_DAY, WITH_SPOTS, D, hire, option, request, visits


def compared(visit_plans, hire_plans, **changes):
    by_visits, by_hire = option("visits", *visit_plans), option("hire", *hire_plans)
    return side_by_side(request(by_visits, by_hire, **changes), by_visits, by_hire)


def test_both_stand_side_by_side_with_the_owners_own_time():
    found = compared([visits(WITH_SPOTS)], [hire(WITH_SPOTS)], hire=replace(HIRE, deposit=D("200.00")))
    assert {row.words: (row.visits, row.hire) for row in found.rows} == {
        "In all": (D("2600.00"), D("1600.00")),
        "A week": (D("650.00"), D("400.00")),
        "Security deposit, given back": (D("0.00"), D("200.00")),
        "Guideline covered": (Fraction(1), Fraction(1)),
        "Longest gap between full bodies, days": (3, 3),
        "Our visits": (28, 3),
        "Our hands-on time": (960, 0),
        "The owner's own sessions": (0, 28),
        "The owner's own time": (0, 960),
        "The owner's longest day": (0, 60),
    }
    assert found.sentence == "The hire costs $1,000.00 less, and the owner gives 16 h of their own time."


def test_break_even_in_visits_is_that_of_the_worked_table():
    (even,) = compared([visits(THIRD_DAY)], [hire(WITH_SPOTS)]).break_evens
    assert (even.full, even.spot) == (13, 22)


@pytest.mark.parametrize(
    ("training", "days"),
    [
        ("120.00", 18),  # 850.00 left for the rent: two weeks and four days are 840.00, a day more 900.00
        ("70.00", 21),  # 900.00 left: three weeks, a day more 960.00
        ("70.01", 18),
    ],
)
def test_break_even_in_days_is_the_longest_hire_that_costs_no_more(training, days):
    # The visits are 1,250.00; of the hire all but rent and training is 280.00: follow-ups and three call-outs.
    rates = replace(HIRE, training=D(training))
    assert compared([visits(THIRD_DAY)], [hire(WITH_SPOTS)], hire=rates).days_of_hire == days


def test_a_hire_that_costs_more_says_for_how_long_it_would_not():
    found = compared([visits(THIRD_DAY)], [hire(WITH_SPOTS)])
    assert found.sentence == (
        "The hire costs $350.00 more, and the owner gives 16 h of their own time."
        " It costs no more for a hire of up to 18 days."
    )


def test_not_even_a_day_of_hire_fits_a_single_visit():
    found = compared([visits(replace(THIRD_DAY, days=1))], [hire(WITH_SPOTS)])
    assert found.days_of_hire is None
    assert found.sentence.endswith("of their own time.")


def test_tax_is_on_both_and_moves_no_break_even():
    plain = compared([visits(THIRD_DAY)], [hire(WITH_SPOTS)])
    taxed = compared([visits(THIRD_DAY)], [hire(WITH_SPOTS)], tax=Tax(D("8.875")))
    assert taxed.days_of_hire == plain.days_of_hire
    assert taxed.rows[0].hire > plain.rows[0].hire


def test_two_machines_cost_two_rents():
    # 2 × 950.00 + 300.00 of visits, less 2 × 310.00 + 90.00: 1,490.00 is 745.00 each, two weeks and two days.
    found = compared([visits(THIRD_DAY)] * 2, [hire(WITH_SPOTS)] * 2, owners=("One", "One"))
    assert found.days_of_hire == 16


@pytest.mark.parametrize("plans", [([hire(WITH_SPOTS)], [hire(WITH_SPOTS)]), ([visits(THIRD_DAY)],) * 2])
def test_only_visits_stand_against_a_hire(plans):
    with pytest.raises(ValueError, match="visits stand against a hire"):
        compared(*plans)
