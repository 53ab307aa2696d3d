"""The demo's mileage log, and a proposal of better days for the four weeks ahead."""

from datetime import timedelta
from decimal import Decimal

from django.test.utils import override_settings

from backoffice.demo.scenario import Made, Scenario
from backoffice.ui.words import METERS_IN
from clients.miles.actions import correct_trip, log_driven_days, write_trip
from clients.miles.models import Trip
from clients.plans.models import Service
from clients.rounds.planning import start_planning
from clients.visits.actions import move_visit
from clients.visits.models import Visit


def log_driving(scenario: Scenario, made: Made) -> None:
    """Driven days by themselves, two errands by hand, and one day put right from the odometer."""
    trips = log_driven_days(at=scenario.now)
    for row in scenario.story["errands"]:
        errand = Trip(
            day=scenario.day(row["day"]),
            driver=made.manager,
            places=row["places"],
            purpose=row["purpose"],
            metres=_metres(row["miles"]),
        )
        write_trip(trip=errand, at=scenario.now, by=made.manager)
    wrong = scenario.story["odometer"]
    trip = next((trip for trip in reversed(trips) if trip.day <= scenario.day(wrong["day"])), None)
    if trip is not None:
        correct_trip(
            trip=trip,
            places=trip.places,
            purpose=trip.purpose,
            metres=trip.metres + _metres(wrong["miles"]),
            measured=Trip.Measure.ODOMETER,
            why=wrong["why"],
            at=scenario.now,
            by=made.manager,
        )


def _metres(miles: str) -> int:
    return round(Decimal(miles) * METERS_IN["mi"])


@override_settings(WORK_AT_ONCE=True)
def propose_days(scenario: Scenario, made: Made) -> None:
    """Two owners asked for the day after; the planner finds what that costs in driving."""
    wished = Visit.objects.filter(
        status=Visit.Status.PENCILLED, planned_day__gt=scenario.today, service__kind=Service.Kind.FULL
    )
    for visit in wished.order_by("day", "pk")[:2]:
        move_visit(visit=visit, day=visit.day + timedelta(days=1), starts=None, at=scenario.now, by=made.manager)
    start_planning(weeks=4, people=[made.manager], at=scenario.now, by=made.manager)
