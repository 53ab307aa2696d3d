"""One more plan: its cost is the difference of the best weeks with it and without it, told as a range."""

from dataclasses import replace
from itertools import product
from random import Random

import pytest

from clients.rounds.fortnight import Placed, PlanRequest, standing_now
from clients.rounds.marginal import cost_of_one_more
from clients.rounds.planner import plan_days
from clients.rounds.vehicle_search import Effort
from tests.clients.rounds.test_planner import drive_by_trying, due, everywhere, fixed, random_weeks, shifts, worth

QUICK = Effort(300)
MONDAY = 0


def cost(request: PlanRequest, *added, first_weekday: int = MONDAY, **more):
    metres = tuple(tuple(10 * leg for leg in row) for row in request.drive)
    return cost_of_one_more(request, added, metres, first_weekday=first_weekday, effort=QUICK, **more)


def weeks(*dues, places: int = 3, **fields) -> PlanRequest:
    return PlanRequest(**{"drive": everywhere(places), "dues": dues, "shifts": shifts(), **fields})


def test_a_horse_at_a_barn_we_are_at_anyway_costs_no_drive():
    found = cost(weeks(fixed("known", on=2)), due("new", around=2))
    assert (found.seconds.least, found.seconds.most, found.metres.most) == (0, 0, 0)


def test_a_barn_on_a_day_of_its_own_costs_out_and_back():
    found = cost(weeks(), due("new", around=2))
    assert (found.seconds.least, found.seconds.most) == (2400, 2400)
    assert found.metres.least == found.metres.alone == 24_000


def test_a_barn_beside_another_costs_the_way_between():
    found = cost(weeks(fixed("known", 2, on=2)), due("new", 1, around=2))
    assert (found.seconds.least, found.seconds.most, found.seconds.alone) == (1200, 1200, 2400)


def test_the_best_weekday_is_the_one_on_which_it_adds_least():
    request = weeks(fixed("known", 2, on=3))
    assert cost(request, due("new", 1, around=2)).best_weekday == 3
    assert cost(request, due("new", 1, around=2), first_weekday=5).best_weekday == 1


def test_without_a_day_on_which_anybody_can_come_there_is_no_best_weekday():
    found = cost(weeks(windows={1: {}}), due("new", 1, around=2))
    assert (found.best_weekday, found.unplaced) == (None, 1)


def test_a_term_costs_as_many_times_more_rounded_up():
    found = cost(weeks(fixed("known", 2, on=2)), due("new", 1, around=2)).over(7)
    assert (found.visits, found.seconds.least, found.seconds.alone, found.metres.most) == (7, 8400, 16_800, 84_000)
    three = replace(found, visits=3).over(1)
    assert (three.seconds.least, three.metres.most) == (2800, 28_000)


def test_what_it_was_found_with_is_kept_and_finds_it_again():
    request, added = random_weeks(3), due("new", 2, around=3)
    found = cost(request, added, seeds=2)
    assert (found.seed, found.seeds, found.iterations) == (QUICK.seed, 2, QUICK.iterations)
    assert found == cost(request, added, seeds=2)


@pytest.mark.parametrize("seed", range(8))
def test_it_lies_between_nothing_and_out_and_back(seed):
    request = random_weeks(seed)
    added = [due(f"new{day}", 1 + seed % 5, around=day) for day in (1, 4)]
    found = cost(request, *added, seeds=2)
    assert 0 <= found.seconds.least <= found.seconds.most <= found.seconds.alone
    assert 0 <= found.metres.least <= found.metres.most <= found.metres.alone
    assert found.visits == 2


@pytest.mark.parametrize("seed", range(12))
def test_small_weeks_cost_what_trying_every_plan_shows(seed):
    dice = Random(seed)
    at = [(dice.uniform(0, 40), dice.uniform(0, 40)) for _ in range(4)]
    drive = tuple(tuple(round(90 * (abs(a - c) + abs(b - d))) for c, d in at) for a, b in at)
    dues = tuple(due(str(n), dice.randint(1, 3), around=dice.randint(1, 4), seconds=1800) for n in range(4))
    new = due("new", dice.randint(1, 3), around=dice.randint(1, 4), seconds=1800)
    request = PlanRequest(drive, dues, shifts())
    with_it = replace(request, dues=(*dues, new))
    difference = best_drive(with_it) - best_drive(request)
    alone = drive[0][new.place] + drive[new.place][0]
    found = cost(request, new)
    assert found.seconds.least <= min(max(0, difference), alone) <= found.seconds.most


def best_drive(request: PlanRequest) -> int:
    every = (
        {each.key: Placed(day, "A") for each, day in zip(request.dues, days, strict=True)}
        for days in product(*(each.days for each in request.dues))
    )
    return drive_by_trying(request, max(every, key=lambda placed: worth(request, placed)))


def test_a_search_begun_from_a_good_plan_is_no_worse():
    request = random_weeks(7)
    good = plan_days(request, Effort(1_000))
    again = plan_days(request, Effort(1), start=good.placed)
    assert len(again.unplaced) <= len(good.unplaced)
    assert worth(request, {**standing_now(request), **again.placed}) >= worth(
        request, {**standing_now(request), **good.placed}
    )


@pytest.mark.parametrize(("added", "seeds"), [((), 1), ((due("new"),), 0)])
def test_a_plan_without_a_visit_or_a_seed_is_a_mistake(added, seeds):
    with pytest.raises(ValueError, match="One more plan"):
        cost(weeks(), *added, seeds=seeds)
