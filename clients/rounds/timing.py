"""When each thing of a day happens, for a given order of stops: the earliest times the rules allow.

A `Course` is a day driven so far. It grows by one stop at a time, so that one order can be timed and many
can be compared while they are built. Where two courses have made the same stops and stand at the same one,
`undominated` keeps those that may still end best.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from clients.rounds.day_round import BASE, LOCKED_TIER, ON_THE_ROAD, DayRequest, Lunch, LunchPlace, Priority

Rank = tuple[Any, ...]


class Visit(NamedTuple):
    stop: int
    arrive: int
    start: int
    end: int


class Course(NamedTuple):
    """A day so far. `ready` is when the next drive can begin (after coming back: the return itself).

    `order` are the stops of `visits`; `stop` beside lunch is the index of the stop at whose barn it is taken.
    """

    ready: int
    place: int
    drive: int = 0
    leave: int | None = None
    visits: tuple[Visit, ...] = ()
    order: tuple[int, ...] = ()
    lunch_start: int | None = None
    lunch_where: LunchPlace | None = None
    lunch_stop: int | None = None


class _Ground(NamedTuple):
    """What is looked up for a stop at every step."""

    place: int
    seconds: int
    starts: tuple[tuple[int, int], ...]
    isolation: int


@dataclass(frozen=True, slots=True)
class Timing:
    """The rules of one request, ready to be stepped through."""

    request: DayRequest
    grounds: tuple[_Ground, ...]

    @classmethod
    def of(cls, request: DayRequest) -> "Timing":
        grounds = tuple(
            _Ground(
                stop.place,
                stop.seconds,
                tuple((span.start, span.end) for span in stop.start_windows(request.day)),
                int(stop.isolation),
            )
            for stop in request.stops
        )
        return cls(request, grounds)

    def departures(self) -> list[Course]:
        """The ways to begin the day: straight away, or after lunch at the base."""
        day, lunch = self.request.day, self.request.lunch
        courses = [Course(day.start, BASE)]
        if lunch is not None and lunch.span.start <= lunch.span.end:
            ready = max(day.start, lunch.span.start + lunch.seconds)
            courses.append(Course(ready, BASE, lunch_start=lunch.span.start, lunch_where=LunchPlace.BEFORE_LEAVING))
        return courses

    def go_on(self, course: Course, stop: int) -> list[Course]:
        """The course with one more stop: without lunch there, and with lunch right after or before it."""
        if course.visits and self.grounds[course.visits[-1].stop].isolation > self.grounds[stop].isolation:
            return []
        grown = [self._visit(course, stop)]
        if self.request.lunch is not None and course.lunch_start is None:
            grown.append(self._eat(grown[0], stop, self.request.lunch) if grown[0] is not None else None)
            grown.append(self._visit_after_lunch(course, stop, self.request.lunch))
        return [longer for longer in grown if longer is not None]

    def _visit(self, course: Course, stop: int) -> Course | None:
        ground = self.grounds[stop]
        leg = self.request.drive[course.place][ground.place]
        arrive = course.ready + leg
        start = _earliest_start(ground.starts, arrive)
        if start is None:
            return None
        if course.leave is None:
            arrive = start
        return self._arrived(course, Visit(stop, arrive, start, start + ground.seconds), leg)

    def _visit_after_lunch(self, course: Course, stop: int, lunch: Lunch) -> Course | None:
        ground = self.grounds[stop]
        leg = self.request.drive[course.place][ground.place]
        arrive = course.ready + leg
        eating = max(arrive, lunch.span.start)
        start = _earliest_start(ground.starts, eating + lunch.seconds)
        if eating > lunch.span.end or start is None:
            return None
        if course.leave is None:
            # The latest lunch that keeps this start lets the day begin as late as it can.
            arrive = eating = min(lunch.span.end, start - lunch.seconds)
        visited = self._arrived(course, Visit(stop, arrive, start, start + ground.seconds), leg)
        return visited._replace(lunch_start=eating, lunch_where=LunchPlace.BEFORE_STOP, lunch_stop=stop)

    def _arrived(self, course: Course, visit: Visit, leg: int) -> Course:
        return course._replace(
            ready=visit.end,
            place=self.grounds[visit.stop].place,
            drive=course.drive + leg,
            leave=visit.arrive - leg if course.leave is None else course.leave,
            visits=(*course.visits, visit),
            order=(*course.order, visit.stop),
        )

    def _eat(self, course: Course, stop: int | None, lunch: Lunch) -> Course | None:
        """The course with lunch from `ready` on: at the stop just made, or at the base after the day."""
        eating = max(course.ready, lunch.span.start)
        if eating > lunch.span.end:
            return None
        where = LunchPlace.AFTER_RETURN if stop is None else LunchPlace.AFTER_STOP
        ready = course.ready if stop is None else eating + lunch.seconds
        return course._replace(ready=ready, lunch_start=eating, lunch_where=where, lunch_stop=stop)

    def come_back(self, course: Course) -> list[Course]:
        """The whole day: back by its end, with lunch at the base afterwards where none was had."""
        if not course.visits:
            return [course]
        leg = self.request.drive[course.place][BASE]
        back = course.ready + leg
        if back > self.request.day.end:
            return []
        home = course._replace(ready=back, place=BASE, drive=course.drive + leg)
        if self.request.lunch is None or course.lunch_start is not None:
            return [home]
        fed = self._eat(home, None, self.request.lunch)
        return [home] if fed is None else [home, fed]

    def wait(self, home: Course) -> int:
        """Seconds on the road that are neither drive, stop nor lunch."""
        if home.leave is None:
            return 0
        work = sum(visit.end - visit.start for visit in home.visits)
        return home.ready - home.leave - home.drive - work - self._road_lunch(home)

    def _road_lunch(self, course: Course) -> int:
        lunch = self.request.lunch
        return lunch.seconds if lunch is not None and course.lunch_where in ON_THE_ROAD else 0

    def undominated(self, courses: Iterable[Course]) -> list[Course]:
        """Of courses with the same stops made, the same last one and the same lunch or none: those
        that no other beats for every way to go on. Less drive decides first, then the earlier return, so a
        course falls only to one that has driven no more and is ready no later.
        """
        kept: list[Course] = []
        for course in sorted(courses, key=lambda course: (course.drive, course.ready)):
            if not any(self._beats(other, course) for other in kept):
                kept.append(course)
        return kept

    def _beats(self, one: Course, other: Course) -> bool:
        if one.ready > other.ready or one.drive > other.drive:
            return False
        if one.drive < other.drive:
            return True
        gain, other_gain = self._shortness(one), self._shortness(other)
        return gain > other_gain if gain != other_gain else _tie(one) <= _tie(other)

    def _shortness(self, course: Course) -> int:
        """More of it is less waiting, for the same drive, stops and return: a later start of the day, and
        lunch instead of waiting."""
        return (course.leave or 0) + self._road_lunch(course)

    def rank(self, home: Course) -> Rank:
        """What makes one whole day better than another: the least rank is the best day.

        The most locked stops, lunch had, the most of high, normal, low; then the fewest seconds of
        drive, the earliest return, the least waiting, the order of the request, the earliest lunch. What is
        still alike is settled by the latest leaving and the earliest arrivals.
        """
        placed = [0] * (LOCKED_TIER + 1)
        for visit in home.visits:
            placed[self.request.stops[visit.stop].tier] -= 1
        return (
            placed[LOCKED_TIER],
            self.request.lunch is not None and home.lunch_start is None,
            placed[Priority.HIGH],
            placed[Priority.NORMAL],
            placed[Priority.LOW],
            home.drive,
            home.ready,
            self.wait(home),
            *_tie(home),
        )

    def best_of_order(self, order: Sequence[int]) -> Course | None:
        """The best whole day with these stops in this order, lunch wherever it is best; None where the
        rules do not allow it."""
        courses = self.departures()
        for stop in order:
            grown = [longer for course in courses for longer in self.go_on(course, stop)]
            hungry = self.undominated(course for course in grown if course.lunch_start is None)
            fed = self.undominated(course for course in grown if course.lunch_start is not None)
            courses = hungry + fed
        return self.best_home(courses)

    def best_home(self, courses: Iterable[Course]) -> Course | None:
        """The best whole day that ends after one of these courses, None where none is back in time."""
        homes = (home for course in courses for home in self.come_back(course))
        return min(homes, key=self.rank, default=None)


def _tie(course: Course) -> Rank:
    """The order of the request, then the earliest lunch, the latest leaving, the earliest arrivals."""
    return (course.order, course.lunch_start or 0, -(course.leave or 0), course.visits)


def _earliest_start(starts: tuple[tuple[int, int], ...], moment: int) -> int | None:
    for opens, closes in starts:
        if moment <= closes:
            return max(moment, opens)
    return None
