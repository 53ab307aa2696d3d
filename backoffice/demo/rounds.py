"""The demo's rounds: today's and those of the days ahead, with today's on paper."""

from backoffice.demo.scenario import Made, Scenario
from clients.rounds.actions import make_round_sheet, plan_round
from clients.visits.models import Visit

DAYS_AHEAD = 7


def plan_rounds(scenario: Scenario, made: Made) -> None:
    days = Visit.objects.filter(
        status=Visit.Status.BOOKED, day__range=(scenario.today, scenario.day(DAYS_AHEAD))
    ).values_list("day", flat=True)
    for day in sorted(set(days)):
        day_round = plan_round(day=day, practitioner=made.manager, at=scenario.now, by=made.manager)
        if day == scenario.today:
            make_round_sheet(day_round=day_round, at=scenario.now, by=made.manager)
