"""What covers most of the guideline within an amount: the search of `budget.py`, asked for a quote."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from backoffice.business.models import Business
from backoffice.refusal import Refused
from backoffice.ui import words
from billing.packages.queries import packages_on_sale
from billing.quotes.budget import Best, search
from billing.quotes.models import OptionSchedule, Quote
from billing.quotes.options import Prepaid, Schedule
from billing.quotes.quote_file import request_of
from billing.quotes.reading import WrongFile
from billing.quotes.request import Budget
from clients.plans.cadence import DaysOff

FOLLOW_UP_EVERY = 14
LONGEST_NAME = 80


@dataclass(frozen=True, slots=True)
class Fitting:
    """What was found, as a schedule that can be stored; no schedule if nothing fits."""

    best: Best
    schedule: Schedule | None
    prepaid: Prepaid

    @property
    def name(self) -> str:
        return self.best.option.name[:LONGEST_NAME] if self.best.option else ""

    def sentence(self, business: Business) -> str:
        option, following = self.best.option, self.best.next_better
        if option is None and following is None:
            return self.best.sentence
        if option is None and following is not None:
            return (
                f"Nothing fits {words.money(self.best.budget.amount, business)}. "
                f"The cheapest costs {words.money(following.total, business)}: {following.name}."
            )
        if option is None or following is None:
            return "Nothing covers more of the guideline."
        more = words.money(following.total - option.total, business)
        return f"The next better one costs {more} more: {following.name}."


def fitting(
    quote: Quote,
    *,
    amount: Decimal,
    visits_per_week: int | None,
    owner_minutes_per_day: int | None,
    days_off: Sequence[str],
    on_day_off: str,
    on: date,
) -> Fitting:
    """Search with these limits; refused, with a sentence, while the quote cannot be priced."""
    budget = Budget(
        amount,
        visits_per_week=visits_per_week,
        owner_minutes_per_day=owner_minutes_per_day,
        days_off=DaysOff.of(days_off),
        on_day_off=on_day_off,
        follow_ups=quote.days // FOLLOW_UP_EVERY,
    )
    try:
        best = search(replace(request_of(quote, on=on, with_hidden=True), budget=budget))
    except WrongFile as wrong:
        raise Refused("The quote cannot be priced yet: see what is missing on its page.") from wrong
    if best is None:
        raise LookupError("a search with a budget always answers")
    return Fitting(best, _schedule_of(best, days_off, on_day_off), _prepaid_of(best, on))


def _schedule_of(best: Best, days_off: Sequence[str], on_day_off: str) -> Schedule | None:
    if best.option is None:
        return None
    plan = next(iter(best.option.option.plans.values()))
    if plan.hire is not None:
        by, laid, follow_ups = OptionSchedule.By.HIRE, plan.hire.own, plan.hire.follow_ups
    elif plan.visits is not None:
        by, laid, follow_ups = OptionSchedule.By.VISITS, plan.visits, 0
    else:
        return None
    return Schedule(laid.phases, by=by, follow_ups=follow_ups, days_off=days_off, on_day_off=on_day_off)


def _prepaid_of(best: Best, on: date) -> Prepaid:
    """The package that the option found has each owner buy, if any."""
    if best.option is None:
        return Prepaid()
    names = {package.name for bought in best.option.option.packages.values() for package in bought}
    return Prepaid(next((each.pk for each in packages_on_sale(on) if each.name in names), None))
