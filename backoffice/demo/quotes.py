"""The demo's quotes, each made and answered on its day."""

from collections import defaultdict
from decimal import Decimal
from typing import Any

from backoffice.demo.papers import NAME
from backoffice.demo.scenario import Made, Scenario
from billing.prices.queries import price_list_of
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.actions import decline_quote, draft_quote, lapse_quotes, offer_quote
from billing.quotes.models import Quote
from billing.quotes.options import Schedule, add_option, remove_option
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
        schedule = _schedule(option, row["days"], scenario)
        add_option(
            quote=quote, name=option["name"], text=option["text"], schedule=schedule, at=drafted, by=made.manager
        )
    return quote


def _schedule(option: dict[str, Any], days: int, scenario: Scenario) -> Schedule:
    phase = Phase(days, full_every=option.get("full_every"), spots_per_day=option.get("spots", 0))
    return Schedule(
        phases=(phase,),
        by=option.get("by", "visits"),
        follow_ups=option.get("follow_ups", 0),
        days_off=option.get("days_off", ()),
        on_day_off=option.get("on_day_off", "keep"),
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
