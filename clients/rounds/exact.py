"""The best day of few stops: every order is built, and what is beaten on the way is dropped."""

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from clients.rounds.day_round import BASE, DayRequest
from clients.rounds.timing import Course, Timing

MOST_STOPS = 8
MOST_STOPS_FOR_ROOM = 10

# The stops made as bits, the last of them, and whether lunch was had: courses alike in these can be compared.
_Alike = tuple[int, int, bool]
_Groups = dict[_Alike, list[Course]]


def best_day(request: DayRequest) -> Course:
    """The best day by `Timing.rank`, its ties included; exact. Each stop more doubles the work."""
    timing = Timing.of(request)
    departures = timing.departures()
    best = timing.best_home(departures)
    groups = _departed(departures)
    while groups:
        groups = _one_stop_more(timing, groups, timing.undominated)
        homes = [timing.best_home(courses) for courses in groups.values()]
        best = min([home for home in (best, *homes) if home is not None], key=timing.rank, default=None)
    if best is None:
        raise ValueError("A day without any stop is always allowed, yet none was found.")
    return best


def has_room_for_all(request: DayRequest) -> bool:
    """Is there a day that makes every stop, with lunch where it is asked for? Exact, and quicker than the
    best day: only how early one can be ready matters."""
    timing = Timing.of(request)
    if not all(ground.starts for ground in timing.grounds):
        return False
    ahead = _Ahead.of(timing)
    groups = _departed(timing.departures())
    for _ in request.stops:
        grown = _one_stop_more(timing, groups, _readiest)
        groups = {key: courses for key, courses in grown.items() if ahead.may_fit(key[0], courses[0].ready)}
    homes = (timing.come_back(course) for courses in groups.values() for course in courses)
    return any(request.lunch is None or home.lunch_start is not None for back in homes for home in back)


@dataclass(frozen=True, slots=True)
class _Ahead:
    """The least that is still ahead of a course: for each stop its last moment to start, and its work with
    the shortest drive to it; then the shortest drive home and the end of the day."""

    latest: tuple[int, ...]
    work: tuple[int, ...]
    home: int
    day_end: int

    @classmethod
    def of(cls, timing: Timing) -> "_Ahead":
        places = [BASE, *(ground.place for ground in timing.grounds)]
        drive = timing.request.drive

        def shortest(to: int) -> int:
            return min(drive[places[here]][places[to]] for here in range(len(places)) if here != to)

        return cls(
            latest=tuple(max(end for _, end in ground.starts) for ground in timing.grounds),
            work=tuple(ground.seconds + shortest(stop + 1) for stop, ground in enumerate(timing.grounds)),
            home=shortest(0) if timing.grounds else 0,
            day_end=timing.request.day.end,
        )

    def may_fit(self, made: int, ready: int) -> bool:
        left = [stop for stop in range(len(self.latest)) if not made >> stop & 1]
        if any(ready > self.latest[stop] for stop in left):
            return False
        return ready + sum(self.work[stop] for stop in left) + self.home <= self.day_end


def _departed(departures: list[Course]) -> _Groups:
    return {(0, -1, course.lunch_start is not None): [course] for course in departures}


def _readiest(courses: Iterable[Course]) -> list[Course]:
    return [min(courses, key=lambda course: course.ready)]


def _one_stop_more(timing: Timing, groups: _Groups, keep: Callable[[Iterable[Course]], list[Course]]) -> _Groups:
    alike: _Groups = defaultdict(list)
    for (made, _, _), courses in groups.items():
        for stop in range(len(timing.request.stops)):
            if made >> stop & 1:
                continue
            for course in courses:
                for longer in timing.go_on(course, stop):
                    alike[made | 1 << stop, stop, longer.lunch_start is not None].append(longer)
    return {key: keep(courses) for key, courses in alike.items()}
