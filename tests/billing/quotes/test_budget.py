"""The search within a budget: what it tries, its limits, and what it says."""

from billing.money.packages import Package
from billing.quotes.budget import search
from billing.quotes.request import Budget
from clients.plans.cadence import DaysOff, Phase
from clients.plans.coverage import Guideline
from tests.billing.quotes.requests import START, WEEKLY, D, option, request, visits


def best_for(amount, packages=(), guideline=None, **limits):
    changes = {"guideline": guideline} if guideline else {}
    budget = Budget(D(amount), follow_ups=2, **limits)
    return search(request(option("one", visits(WEEKLY)), budget=budget, packages=packages, **changes))


def test_the_search_finds_the_most_covered_then_the_cheapest_then_the_fewest_visits():
    best = best_for("1300.00")
    assert (best.option.name, best.option.total) == ("Full body every 3 days", D("1250.00"))
    assert best.next_better.total == D("1600.00")
    assert best.sentence == (
        "The next better one costs 350.00 more: Full body every 3 days, a spot on each day between, by hire."
    )


def test_a_budget_for_everything_has_no_next_better():
    best = best_for("5000.00")
    assert (best.option.covered, best.option.total) == (1, D("1600.00"))
    assert best.next_better is None


def test_a_budget_below_the_cheapest_says_what_that_costs():
    best = best_for("100.00")
    assert best.option is None
    assert best.sentence.startswith("No schedule fits 100.00. The cheapest costs 125.00")


def test_limits_narrow_the_search():
    assert best_for("5000.00", owner_minutes_per_day=30, visits_per_week=1).option.visits <= 4
    assert best_for("5000.00", visits_per_week=0).option is None


def test_a_budget_without_a_guideline_has_a_sentence():
    result = search(request(option("one", visits(WEEKLY)), guideline=None, budget=Budget(D("500.00"))))
    assert result.sentence == "A budget needs a guideline to come near to."
    assert search(request(option("one", visits(WEEKLY)))) is None


def test_no_schedule_that_keeps_the_limits_has_a_sentence():
    best = best_for("5000.00", visits_per_week=0)
    assert (best.option, best.next_better, best.sentence) == (None, None, "No schedule keeps the limits.")


def test_visits_a_week_count_the_weeks_from_the_start():
    # Every third day falls on three days of the first week: three are allowed, two are not.
    three, two = (best_for("1300.00", visits_per_week=limit) for limit in (3, 2))
    assert three.option.name == "Full body every 3 days"
    assert two.option.name == "Full body every 4 days"


def test_the_owners_minutes_are_those_of_one_day():
    # A day of the owner's holds a full body of 60 minutes.
    at_most = {limit: best_for("5000.00", owner_minutes_per_day=limit).option for limit in (60, 59)}
    assert at_most[60].owner_minutes == 960
    assert at_most[59].owner_minutes == 0


def test_days_off_hold_for_what_is_found():
    best = best_for("1300.00", days_off=DaysOff.of(["MO"]), on_day_off="next")
    assert all(session.on.weekday() != 0 for session in best.option.horses[0].days.ours)


def test_a_package_on_sale_is_tried_for_each_owner():
    ten = Package("ten", D("700.00"), {"full": 10})
    best = best_for("1000.00", packages=(ten,))
    assert best.option.name == 'Full body every 3 days, with the package "ten"'
    assert best.option.total == D("1000.00")
    assert best_for("999.99", packages=(ten,)).option.covered < best.option.covered


def test_a_package_that_costs_more_than_it_saves_is_left():
    dear = Package("dear", D("951.00"), {"full": 10})
    assert best_for("1300.00", packages=(dear,)).option.name == "Full body every 3 days"


def test_the_next_better_one_may_use_a_package():
    # Fourteen full bodies: ten from the package, four at 95.00, fourteen call-outs: 1,500.00.
    best = best_for("1300.00", packages=(Package("ten", D("700.00"), {"full": 10}),))
    assert best.sentence == 'The next better one costs 500.00 more: Full body every 2 days, with the package "ten".'


def test_the_longest_rhythm_that_is_tried_is_every_31_days():
    far = Guideline((Phase(62, full_every=31),))
    found = search(
        request(option("one", visits(Phase(62))), days=62, guideline=far, hire=None, budget=Budget(D("250.00")))
    )
    assert (found.option.name, found.option.covered) == ("Full body every 31 days", 1)


def test_a_guideline_without_full_bodies_has_an_answer():
    spots = Guideline((Phase(28, spots_per_day=1),))
    best = best_for("200.00", guideline=spots)
    assert best.option.total <= D("200.00")
    assert 0 < best.option.covered < 1
    assert best.option.horses[0].days.ours[0].on == START
