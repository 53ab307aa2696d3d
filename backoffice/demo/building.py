"""Builds the whole demo, in the order in which a business would live it."""

from collections.abc import Callable
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from backoffice.demo import driving, history, money, papers, people, quotes, setting_up
from backoffice.demo.scenario import Made, Scenario
from clients.paperwork.renewing import draft_renewals

Step = tuple[str, Callable[[Scenario, Made], None]]

STEPS: tuple[Step, ...] = (
    ("business and accounts", setting_up.build_business),
    ("prices", setting_up.build_prices),
    ("packages", setting_up.build_offers),
    ("machines", setting_up.build_kit),
    ("the practice's own papers", papers.write_down_own_papers),
    ("barns", people.build_barns),
    ("owners", people.build_owners),
    ("horses", people.build_horses),
    ("health questions", people.ask_about_health),
    ("signed papers", papers.sign_papers),
    ("vets", papers.ask_the_vets),
    ("ten weeks of work", history.live_through),
    ("the weeks ahead", history.book_ahead),
    ("wishes", history.pencil_wishes),
    ("an incident", papers.write_incident_down),
    ("today's rounds", history.live_today),
    ("the office", money.keep_the_office),
    ("the mileage log", driving.log_driving),
    ("better days for four weeks", driving.propose_days),
    ("a history file and an erasure", papers.hand_over_and_erase),
)


def build(*, now: datetime, say: Callable[[str], None]) -> tuple[Scenario, Made]:
    """Fill an empty database. One transaction: half a demo is none. `say` is told each step as it begins."""
    zone = Scenario(today=timezone.localdate(now), now=now).zone
    scenario, made = Scenario(today=now.astimezone(zone).date(), now=now), Made()
    with timezone.override(zone), transaction.atomic():
        for words, step in STEPS:
            say(words)
            step(scenario, made)
        quotes.lapse_old_quotes(scenario)
        draft_renewals(at=scenario.at(0, 2))
    return scenario, made
