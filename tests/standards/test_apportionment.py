"""Largest remainder against published apportionments."""

import pytest

from billing.money.shares import largest_remainder

# Source: electowiki, "Hamilton method": the 1790 census of the United States, 60 seats.
CENSUS_1790 = {
    "VA": (630560, 11),
    "MA": (475327, 8),
    "PA": (432879, 7),
    "NC": (353523, 6),
    "NY": (331589, 6),
    "MD": (278514, 5),
    "CT": (236841, 4),
    "SC": (206236, 3),
    "NJ": (179570, 3),
    "NH": (141822, 2),
    "VT": (85533, 1),
    "GA": (70835, 1),
    "KY": (68705, 1),
    "RI": (68446, 1),
    "DE": (55540, 1),
}


def test_the_census_of_1790_gives_its_sixty_seats():
    populations, seats = zip(*CENSUS_1790.values(), strict=True)
    assert largest_remainder(60, populations) == list(seats)


# Value from memory: a common textbook example of the largest remainder method.
def test_six_parties_share_ten_seats():
    assert largest_remainder(10, [47000, 16000, 15900, 12000, 6000, 3100]) == [5, 2, 1, 1, 1, 0]


@pytest.mark.parametrize("sign", [1, -1])
def test_a_credit_gives_the_same_seats_back(sign):
    populations = [population for population, _seats in CENSUS_1790.values()]
    assert sum(largest_remainder(sign * 60, populations)) == sign * 60
