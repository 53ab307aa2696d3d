"""The one list of reports. A new report is a function that gives a `Report`, and a line here."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from billing.reports import care, earned, money
from billing.reports.report import Report
from billing.reports.week import week
from billing.reports.work import work_between

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Asked:
    """What somebody wants to see: a time, a way to group, and who and when they are."""

    since: date
    until: date
    by: str
    on: date
    business: Business
    user: User


@dataclass(frozen=True, slots=True)
class Shown:
    """`span` is the time that is shown at first; "" for a report of now."""

    title: str
    purpose: str
    power: Power
    make: Callable[[Asked], Report]
    span: str = "month"
    ways: tuple[tuple[str, str], ...] = ()


def _week(asked: Asked) -> Report:
    monday = asked.since - timedelta(days=asked.since.weekday())
    work = work_between(monday, monday + timedelta(days=6))
    may = asked.user.may(Power.SEE_MARGINS)
    return week(work, monday, on=asked.on, currency=asked.business.currency, with_margins=may)


def _earned(asked: Asked) -> Report:
    work = work_between(asked.since, asked.until)
    return earned.earned(work, asked.by, asked.since, asked.until, asked.business.currency)


REPORTS = {
    "week": Shown(
        "The week", "Each day’s work, the money that moved, and what comes next.", Power.SEE_MONEY, _week, "week"
    ),
    "earned": Shown(
        "Earned an hour",
        "What an hour brings once driving, set-up and desk time count.",
        Power.SEE_MARGINS,
        _earned,
        ways=tuple((way, words) for way, (words, _) in earned.WAYS.items()),
    ),
    "hours": Shown(
        "Hours and driving",
        "Hands-on, on the road and around it, by week and person.",
        Power.SEE_MARGINS,
        lambda asked: care.hours(work_between(asked.since, asked.until)),
    ),
    "cadence": Shown(
        "Cadence kept",
        "How far each plan was kept to its own sessions.",
        Power.SEE_CARE,
        lambda asked: care.cadence(asked.since, min(asked.until, asked.on - ONE_DAY)),
    ),
    "income": Shown(
        "Income by month",
        "What was invoiced, and what came in.",
        Power.SEE_MONEY,
        lambda asked: money.income(asked.since, asked.until),
        "year",
    ),
    "unpaid": Shown(
        "Unpaid",
        "Who owes what, and for how long it is late.",
        Power.SEE_MONEY,
        lambda asked: money.unpaid(asked.on),
        "",
    ),
    "waived": Shown(
        "Waived",
        "Work that was not charged, and why.",
        Power.SEE_MONEY,
        lambda asked: money.waived(asked.since, asked.until),
        "year",
    ),
    "prepaid": Shown(
        "Owed in work",
        "What is paid for and still to be done: packages, plans, vouchers.",
        Power.SEE_MONEY,
        lambda asked: money.prepaid(),
        "",
    ),
}


def reports_for(user: User) -> dict[str, Shown]:
    return {name: shown for name, shown in REPORTS.items() if user.may(shown.power)}
