"""The demo's quotes, each made and answered on its day."""

from collections import defaultdict
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from backoffice.business.queries import local_date
from backoffice.demo.papers import NAME
from backoffice.demo.scenario import Made, Scenario
from billing.packages.models import Package
from billing.prices.queries import price_list_of
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.actions import decline_quote, draft_quote, lapse_quotes, offer_quote
from billing.quotes.models import Quote
from billing.quotes.options import (
    Prepaid,
    Schedule,
    Schedules,
    add_option,
    hide_option,
    line_up_option,
    prefer_option,
    remove_option,
)
from billing.quotes.weighing import shifts_of
from clients.plans.cadence import Phase
from clients.plans.queries import latest_versions
from clients.visits.actions import book_all

ANSWERED_AFTER = 1


def quotes_by_day(scenario: Scenario) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in scenario.story["quotes"]:
        found[row["made"]].append(row)
    return found


def make_quote(row: dict[str, Any], scenario: Scenario, made: Made) -> None:
    at = scenario.at(row["made"], 15)
    quote = _draft(row, scenario, made)
    if row["answer"] == "draft":
        return
    token = offer_quote(quote=quote, at=at, by=made.manager)
    if row["answer"] == "offered":
        made.tokens.setdefault("owner", token)
    elif row["answer"] == "accepted":
        _accept(quote, row, scenario, made)
    elif row["answer"] == "declined":
        answered = scenario.at(row["made"] + ANSWERED_AFTER, 20)
        decline_quote(quote=quote, reason=row["reason"], at=answered, via="private link")


def _draft(row: dict[str, Any], scenario: Scenario, made: Made) -> Quote:
    person, on = made.people[row["owner"]], scenario.day(row["made"])
    drafted = scenario.at(row["made"], 14)
    prices = price_list_of(person, on)
    if prices is None:
        raise LookupError("price list")
    versions = {version.guideline.name: version for version in latest_versions()}
    quote = draft_quote(
        quote=Quote(
            title=row["title"],
            person=person,
            goal=row["goal"],
            guideline_version=versions[row["guideline"]] if row["guideline"] else None,
            full_service=made.services["full"],
            spot_service=made.services["spot"],
            price_list=prices,
            event_on=scenario.day(row["event"]) if "event" in row else None,
            start=scenario.day(row["start"]),
            days=row["days"],
            budget=Decimal(row["budget"]) if row["budget"] else None,
        ),
        horses=[made.animals[horse] for horse in row["horses"]],
        at=drafted,
        by=made.manager,
    )
    for suggested in quote.options.all():
        remove_option(option=suggested, at=drafted, by=made.manager)
    for option in row["options"]:
        _option(quote, option, row["days"], made, at=drafted)
    return quote


def _option(quote: Quote, row: dict[str, Any], days: int, made: Made, *, at: datetime) -> None:
    """An option as the scenario tells it: the same for each horse, or, under "each", one schedule a horse."""
    schedules: Schedules = _schedule(row, days)
    if row.get("by") == "hire":
        first, *others = quote.horses.values_list("animal_id", flat=True)
        shared = {pk: replace(_schedule(row, days), hired_with=first) for pk in others}
        schedules = {first: _schedule(row, days), **shared}
    if "each" in row:
        schedules = {made.animals[horse].pk: _schedule(its, days) for horse, its in row["each"].items()}
    package = Package.objects.get(name=row["package"]).pk if "package" in row else None
    option = add_option(
        quote=quote,
        name=row["name"],
        text=row["text"],
        schedule=schedules,
        prepaid=Prepaid(package),
        at=at,
        by=made.manager,
    )
    if row.get("line_up"):
        line_up_option(option=option, shifts=shifts_of(option, on=local_date(at)), at=at, by=made.manager)
    if row.get("hidden"):
        hide_option(option=option, hidden=True, at=at, by=made.manager)
    if "prefer" in row:
        prefer_option(option=option, why=row["prefer"], at=at, by=made.manager)


def _schedule(option: dict[str, Any], days: int) -> Schedule:
    phase = Phase(days, full_every=option.get("full_every"), spots_per_day=option.get("spots", 0))
    return Schedule(
        phases=(phase,),
        by=option.get("by", "visits"),
        follow_ups=option.get("follow_ups", 0),
        days_off=option.get("days_off", ()),
        on_day_off=option.get("on_day_off", "keep"),
        shift=option.get("shift", 0),
    )


def _accept(quote: Quote, row: dict[str, Any], scenario: Scenario, made: Made) -> None:
    answered = scenario.at(row["made"] + ANSWERED_AFTER, 20)
    acceptance = accept_quote(
        quote=quote,
        option=quote.options.get(name=row["choose"]),
        signed=Signed(quote.person.name, NAME, device="The owner's phone"),
        at=answered,
    )
    for plan in acceptance.plans.all():
        book_all(plan=plan, at=answered, by=made.manager)


def lapse_old_quotes(scenario: Scenario) -> None:
    lapse_quotes(at=scenario.at(0, 6))
