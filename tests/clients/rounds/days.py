"""Days to plan: invented at random from a seed, or written short by hand."""

import random

from clients.rounds.day_round import DayRequest, Isolation, Lunch, Priority, Span, Stop

HOUR, MINUTE = 3600, 60


def at(text: str) -> int:
    hour, minute = text.split(":")
    return int(hour) * HOUR + int(minute) * MINUTE


def span(start: str, end: str) -> Span:
    return Span(at(start), at(end))


def stop(key: str, place: int, minutes: int, **rules) -> Stop:
    return Stop(key, place, minutes * MINUTE, **rules)


def day(stops, minutes, lunch=None, hours=("08:00", "17:00")) -> DayRequest:
    drive = tuple(tuple(leg * MINUTE for leg in row) for row in minutes)
    return DayRequest(span(*hours), drive, tuple(stops), lunch)


def everywhere(minutes: int, places: int) -> list[list[int]]:
    """A matrix with the same drive between any two places."""
    return [[0 if i == j else minutes for j in range(places)] for i in range(places)]


def random_day(seed: int, stops: int) -> DayRequest:
    """Windows, locks, lunch, isolation and priorities at random; one in three asymmetric, some barns shared."""
    chance = random.Random(seed)
    return DayRequest(
        day=Span(8 * HOUR, chance.choice([13, 15, 17, 19]) * HOUR),
        drive=_random_drive(chance, stops + 1),
        stops=tuple(_random_stop(chance, index, stops) for index in range(stops)),
        lunch=_random_lunch(chance),
    )


def _random_drive(chance: random.Random, places: int) -> tuple[tuple[int, ...], ...]:
    points = [(chance.randrange(40), chance.randrange(40)) for _ in range(places)]
    detour = 600 if chance.random() < 1 / 3 else 1
    return tuple(
        tuple(0 if here is there else _streets(here, there) + chance.randrange(detour) for there in points)
        for here in points
    )


def _streets(here: tuple[int, int], there: tuple[int, int]) -> int:
    return (abs(here[0] - there[0]) + abs(here[1] - there[1])) * MINUTE


def _random_stop(chance: random.Random, index: int, stops: int) -> Stop:
    windows: tuple[Span, ...] = ()
    if chance.random() < 0.4:
        opens = chance.randrange(7, 15) * HOUR
        windows = (Span(opens, opens + chance.choice([30, 60, 120, 180]) * MINUTE),)
        if chance.random() < 0.4:
            opens = chance.randrange(12, 17) * HOUR
            windows += (Span(opens, opens + HOUR),)
    return Stop(
        key=f"S{index}",
        place=chance.randrange(1, stops + 1) if chance.random() < 0.2 else index + 1,
        seconds=chance.choice([20, 30, 45, 60, 75, 90, 120]) * MINUTE,
        windows=windows,
        locked=chance.randrange(16, 34) * 30 * MINUTE if chance.random() < 0.15 else None,
        isolation=chance.choice([*Isolation, Isolation.CLEAN, Isolation.CLEAN, Isolation.CLEAN]),
        priority=chance.choice([*Priority, Priority.NORMAL, Priority.NORMAL]),
    )


def _random_lunch(chance: random.Random) -> Lunch | None:
    if chance.random() < 0.2:
        return None
    opens = chance.choice([7 * HOUR, 11 * HOUR, 11 * HOUR + 30 * MINUTE, 12 * HOUR, 16 * HOUR])
    length = chance.choice([30, 60, 120]) * MINUTE
    return Lunch(chance.choice([30, 45]) * MINUTE, Span(opens, opens + length))
