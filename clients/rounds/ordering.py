"""The best day of a request: proven for few stops, searched for more. One door for both."""

from clients.rounds import exact
from clients.rounds.day_round import DayRequest
from clients.rounds.search import searched_day
from clients.rounds.timing import Course
from clients.rounds.vehicle_search import Effort


def best_course(request: DayRequest, *, effort: Effort | None = None) -> Course:
    """The best day by `Timing.rank`: the best there is for up to `exact.MOST_STOPS` stops, and the best
    found by `effort` (by default as much as the number of stops asks for) above that."""
    if len(request.stops) <= exact.MOST_STOPS:
        return exact.best_day(request)
    return searched_day(request, effort or Effort.for_stops(len(request.stops)))
