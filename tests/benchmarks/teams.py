"""A day of several people to plan, invented from a seed on a square of forty miles."""

from random import Random

from clients.rounds.day_round import Isolation, Lunch, Span, Stop
from clients.rounds.team import Person, TeamRequest

HOUR, MINUTE = 3600, 60
DAY = Span(8 * HOUR, 17 * HOUR + 30 * MINUTE)
LUNCH = Lunch(30 * MINUTE, Span(11 * HOUR + 30 * MINUTE, 13 * HOUR + 30 * MINUTE))


def team_of(stops: int, people: int, *, seed: int = 1) -> TeamRequest:
    """Some stops with a window of three hours, some locked, some isolated, one in ten for two people alone."""
    chance = Random(seed)
    at = [(chance.uniform(0, 40), chance.uniform(0, 40)) for _ in range(stops + people)]
    drive = tuple(tuple(round(75 * (abs(a - c) + abs(b - d))) for c, d in at) for a, b in at)
    team = tuple(Person(f"P{number}", stops + number, DAY, LUNCH) for number in range(people))
    asked = tuple(_stop(chance, index) for index in range(stops))
    return TeamRequest(drive, team, asked, {f"S{index}": frozenset({"P0", "P1"}) for index in range(0, stops, 10)})


def _stop(chance: Random, index: int) -> Stop:
    opens = chance.choice([8, 9, 10, 13, 14]) * HOUR
    return Stop(
        key=f"S{index}",
        place=index,
        seconds=chance.choice([15, 20, 30]) * MINUTE,
        windows=(Span(opens, opens + 3 * HOUR),) if chance.random() < 0.3 else (),
        locked=chance.randrange(18, 32) * 30 * MINUTE if chance.random() < 0.08 else None,
        isolation=Isolation.INFECTED if chance.random() < 0.05 else Isolation.CLEAN,
    )
