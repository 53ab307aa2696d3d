"""A day of several people: who makes which stop, each from their own base, in their own hours, with their own lunch.

PyVRP shares out the stops; each day is then the day's own round, and stops go from one to the other while that makes
the whole better. What counts is the sum over all days of what counts for one, in the same order (`Timing.rank`).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations

from clients.rounds import exact
from clients.rounds.day_round import DayPlan, DayRequest, Lunch, Reason, ReasonCode, Span, Stop, Unplaced
from clients.rounds.ordering import best_course
from clients.rounds.polish import drive_of, insertions, polished
from clients.rounds.reasons import SENTENCES, reasons_for_unplaced
from clients.rounds.search import Driver, Drivers, with_the_day_as_window
from clients.rounds.solver import checked_plan
from clients.rounds.timing import Course, Timing
from clients.rounds.vehicle_search import Effort

_TIERS = 5
_ITERATIONS_A_STOP, _LEAST_ITERATIONS = 60, 1_000

Order = tuple[int, ...]
Score = tuple[int, ...]
Move = dict[int, Course]


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works that day: from which place and back to it, when, and with which lunch."""

    key: str
    base: int
    day: Span
    lunch: Lunch | None = None


@dataclass(frozen=True, slots=True)
class TeamRequest:
    """What a team's day is planned from. Who is away is not among the people.

    `drive[i][j]` is in seconds, bases are places like any other. `people_of` says by their keys who may make a stop;
    one that is missing is anybody's. Raises ValueError for a key used twice or a place outside the matrix.
    """

    drive: tuple[tuple[int, ...], ...]
    people: tuple[Person, ...]
    stops: tuple[Stop, ...]
    people_of: Mapping[str, frozenset[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if len({person.key for person in self.people}) != len(self.people):
            raise ValueError("Two people have the same key.")
        if not all(0 <= person.base < len(self.drive) for person in self.people):
            raise ValueError("A base lies outside the matrix of drives.")
        DayRequest(Span(0, 0), self.drive, self.stops)

    def may(self, person: Person, stop: Stop) -> bool:
        return person.key in self.people_of.get(stop.key, {person.key})

    def day_of(self, person: Person, stops: Sequence[Stop]) -> DayRequest:
        """The day of one person with these stops: their base is place 0, and 0 is where their base was."""
        base = person.base
        places = [base, *range(1, len(self.drive))]
        places[base] = 0 if base else base
        drive = tuple(tuple(self.drive[here][there] for there in places) for here in places)
        moved = {base: 0, 0: base}
        own = tuple(replace(stop, place=moved.get(stop.place, stop.place)) for stop in stops)
        return DayRequest(person.day, drive, own, person.lunch)


@dataclass(frozen=True, slots=True)
class TeamPlan:
    """Person → their day; what nobody makes, with every reason of everybody who may make it."""

    days: Mapping[str, DayPlan]
    unplaced: tuple[Unplaced, ...]


def plan_team(request: TeamRequest, *, effort: Effort | None = None) -> TeamPlan:
    """The best day of the team that was found; each day of it has passed the inspection of all rules.

    Best means summed over the people, in this order: the most locked stops, lunch had, the most stops of high, normal,
    low priority, the fewest seconds of drive, the least time from the start of the day to the return, the least
    waiting.
    """
    team = _Team(request)
    team.share_out(effort or Effort(max(_LEAST_ITERATIONS, _ITERATIONS_A_STOP * len(request.stops))))
    team.improve()
    days = {person.key: team.plan_of(at) for at, person in enumerate(request.people)}
    return TeamPlan(days, tuple(Unplaced(request.stops[left].key, team.reasons(left)) for left in team.left_over()))


class _Team:
    """The course of each person, its stops as numbers of the request."""

    def __init__(self, request: TeamRequest) -> None:
        self.request = request
        self.timings = [Timing.of(request.day_of(person, request.stops)) for person in request.people]
        self.known: dict[tuple[int, Order], Course | None] = {}
        self.best_known: dict[tuple[int, Order], Course] = {}
        self.courses = [self._best_day(at, ()) for at in range(len(request.people))]

    def share_out(self, effort: Effort) -> None:
        """The stops as PyVRP shares them out, lunch at a barn; what their own round has no room for is left."""
        people, stops = self.request.people, self.request.stops
        if not people or not stops:
            return
        whole = Span(min(person.day.start for person in people), max(person.day.end for person in people))
        drivers = [Driver(person.base, person.day, person.lunch) for person in people]
        theirs = {
            index: frozenset(at for at, person in enumerate(people) if self.request.may(person, stop))
            for index, stop in enumerate(stops)
            if stop.key in self.request.people_of
        }
        model = Drivers(self.request.drive, with_the_day_as_window(stops, whole), drivers, theirs)
        for at, order in enumerate(model.orders(effort)):
            self.courses[at] = self._timed(at, order) or self._best_day(at, order)

    def improve(self) -> None:
        """Each day ordered anew with what is left over, then stops handed over, exchanged, and made room for."""
        while any(
            self._first_better(moves()) for moves in (self._reordered, self._handed, self._exchanged, self._room)
        ):
            pass
        # What is alike by all that is summed is settled as in a day of one's own.
        self.courses = [self._best_day(at, course.order) for at, course in enumerate(self.courses)]

    def _first_better(self, moves: Iterator[Move]) -> bool:
        score = self._score(self.courses)
        for move in moves:
            courses = [move.get(at, course) for at, course in enumerate(self.courses)]
            if self._score(courses) < score:
                self.courses = courses
                return True
        return False

    def _score(self, courses: Sequence[Course]) -> Score:
        return tuple(map(sum, zip(*(self._figures(at, course) for at, course in enumerate(courses)), strict=True)))

    def _figures(self, at: int, course: Course) -> Score:
        counted = self.timings[at].rank(course)[:_TIERS]
        out = course.ready - self.request.people[at].day.start if course.visits else 0
        return (*counted, course.drive, out, self.timings[at].wait(course))

    def _timed(self, at: int, order: Order) -> Course | None:
        """The best timing of an order, None where it does not fit; asked again and again for the same ones."""
        if (at, order) not in self.known:
            self.known[at, order] = self.timings[at].best_of_order(order) if self._has_time(at, order) else None
        return self.known[at, order]

    def _has_time(self, at: int, order: Order) -> bool:
        day = self.request.people[at].day
        work = sum(self.request.stops[stop].seconds for stop in order)
        return not order or self._drive(at, order) + work <= day.end - day.start

    def left_over(self) -> list[int]:
        made = {stop for course in self.courses for stop in course.order}
        left = [index for index in range(len(self.request.stops)) if index not in made]
        return sorted(left, key=lambda index: (-self.request.stops[index].tier, index))

    def _is_theirs(self, at: int, stop: int) -> bool:
        return self.request.may(self.request.people[at], self.request.stops[stop])

    def _are_theirs(self, at: int, stops: Sequence[int]) -> bool:
        return all(self._is_theirs(at, stop) for stop in stops)

    # What may make it better: person → their new course

    def _reordered(self) -> Iterator[Move]:
        left = self.left_over()
        for at, course in enumerate(self.courses):
            stops = [*course.order, *(stop for stop in left if self._is_theirs(at, stop))]
            yield {at: self._best_day(at, stops)}

    def _best_day(self, at: int, stops: Sequence[int]) -> Course:
        """The best day one person can make of some of these stops, beginning with the order they stand in."""
        key = at, tuple(stops)
        if key not in self.best_known:
            numbers = sorted(stops)
            course = self._best_course(self._day(at, numbers), [numbers.index(stop) for stop in stops])
            self.best_known[key] = self._as_whole(at, tuple(numbers[index] for index in course.order))
        return self.best_known[key]

    def _best_course(self, request: DayRequest, order: Sequence[int]) -> Course:
        if len(order) <= exact.MOST_STOPS:
            return exact.best_day(request)
        timing = Timing.of(request)
        course = timing.best_of_order(())
        for stop in order:
            longer = timing.best_of_order((*course.order, stop)) if course is not None else None
            course = longer or course
        return polished(timing, course) if course is not None else best_course(request)

    def _as_whole(self, at: int, order: Order) -> Course:
        course = self._timed(at, order)
        if course is None:
            raise ValueError("This order does not fit the day.")
        return course

    def _day(self, at: int, stops: Sequence[int]) -> DayRequest:
        return self.request.day_of(self.request.people[at], [self.request.stops[stop] for stop in stops])

    def _handed(self) -> Iterator[Move]:
        """Stops that one person makes one after the other made by another, for no more drive."""
        for giver, course in enumerate(self.courses):
            for head, part, tail in _parts(course.order):
                saved = course.drive - self._drive(giver, head + tail)
                for taker, other in enumerate(self.courses):
                    if taker != giver and self._are_theirs(taker, part):
                        for order in _put_in(other.order, part):
                            if self._drive(taker, order) - other.drive <= saved:
                                yield from self._both(giver, head + tail, taker, order)

    def _crossed(self) -> Iterator[Move]:
        """The rest of two days changing hands, for no more drive."""
        for one, two in combinations(range(len(self.courses)), 2):
            first, second = self.courses[one], self.courses[two]
            for cut in range(len(first.order) + 1):
                for other_cut in range(len(second.order) + 1):
                    order = first.order[:cut] + second.order[other_cut:]
                    other = second.order[:other_cut] + first.order[cut:]
                    if not (self._are_theirs(one, order) and self._are_theirs(two, other)):
                        continue
                    if self._drive(one, order) + self._drive(two, other) <= first.drive + second.drive:
                        yield from self._both(one, order, two, other)

    def _exchanged(self) -> Iterator[Move]:
        """Two stops of two people changing hands, for no more drive."""
        for one, two in combinations(range(len(self.courses)), 2):
            first, second = self.courses[one], self.courses[two]
            for given in first.order:
                for taken in second.order:
                    if self._is_theirs(two, given) and self._is_theirs(one, taken):
                        yield from self._exchange((one, given), (two, taken))

    def _exchange(self, one: tuple[int, int], two: tuple[int, int]) -> Iterator[Move]:
        (first, given), (second, taken) = one, two
        orders = self._with_drive(first, _without(self.courses[first].order, given), taken)
        others = self._with_drive(second, _without(self.courses[second].order, taken), given)
        limit = self.courses[first].drive + self.courses[second].drive
        for drive, order in orders:
            for other_drive, other in others:
                if drive + other_drive > limit:
                    break
                yield from self._both(first, order, second, other)

    def _with_drive(self, at: int, order: Order, stop: int) -> list[tuple[int, Order]]:
        return sorted((self._drive(at, longer), longer) for longer in insertions(order, stop))

    def _both(self, one: int, order: Order, two: int, other: Order) -> Iterator[Move]:
        first = self._timed(one, order)
        second = self._timed(two, other) if first is not None else None
        if first is not None and second is not None:
            yield {one: first, two: second}

    def _room(self) -> Iterator[Move]:
        """A stop handed to somebody else so that one that is left over gets its place."""
        for left in self.left_over():
            for giver, course in enumerate(self.courses):
                if not self._is_theirs(giver, left):
                    continue
                for stop in course.order:
                    filled = self._best_with(giver, _without(course.order, stop), left)
                    for taker in range(len(self.courses)) if filled is not None else ():
                        if taker != giver and self._is_theirs(taker, stop):
                            taken = self._best_with(taker, self.courses[taker].order, stop)
                            if taken is not None and filled is not None:
                                yield {giver: filled, taker: taken}

    def _best_with(self, at: int, order: Order, stop: int) -> Course | None:
        tried = [self._timed(at, longer) for longer in insertions(order, stop)]
        return min((course for course in tried if course is not None), key=self.timings[at].rank, default=None)

    def _drive(self, at: int, order: Order) -> int:
        return drive_of(self.timings[at].request, order)

    # What came of it

    def plan_of(self, at: int) -> DayPlan:
        stops = sorted(self.courses[at].order)
        request = self._day(at, stops)
        return checked_plan(request, self._own(at, stops, request), ())

    def _own(self, at: int, stops: Sequence[int], request: DayRequest) -> Course:
        order = [stops.index(stop) for stop in self.courses[at].order]
        course = Timing.of(request).best_of_order(order)
        if course is None:
            raise ValueError("This order does not fit the day.")
        return course

    def reasons(self, left: int) -> tuple[Reason, ...]:
        """Of everybody who may make the stop, what keeps it out of their day."""
        codes: set[ReasonCode] = set()
        for at in range(len(self.courses)):
            if self._is_theirs(at, left):
                stops = [*sorted(self.courses[at].order), left]
                request = self._day(at, stops)
                found = reasons_for_unplaced(request, self._own(at, stops, request))
                codes |= {reason.code for reason in found[0].reasons}
        ordered = [code for code in ReasonCode if code in codes] or [ReasonCode.NOBODY]
        return tuple(Reason(code, SENTENCES[code]) for code in ordered)


def _without(order: Order, stop: int) -> Order:
    return tuple(each for each in order if each != stop)


def _parts(order: Order) -> Iterator[tuple[Order, Order, Order]]:
    """What is before, in and after each stretch of an order."""
    for first, last in combinations(range(len(order) + 1), 2):
        yield order[:first], order[first:last], order[last:]


def _put_in(order: Order, part: Order) -> Iterator[Order]:
    for position in range(len(order) + 1):
        yield (*order[:position], *part, *order[position:])
        if len(part) > 1:
            yield (*order[:position], *part[::-1], *order[position:])
