from calendar import monthrange
from datetime import date, timedelta

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.models import User
from backoffice.access.powers import Power
from clients.plans.cadence import MONTH_NAMES, say_date
from clients.visits.queries import diary, diary_week, practitioners, uncompleted_visits

EARLIEST, LATEST = date(2000, 1, 3), date(2100, 12, 1)


@require_GET
@needs(Power.SEE_CARE)
def week(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    start = _week_of(request.GET.get("week", ""), today)
    people, who = _chosen_person(request)
    context = {
        "days": diary_week(start, who),
        "today": today,
        "heading": f"{_short(start)} to {say_date(start + timedelta(days=6))}",
        "people": people,
        "who": who,
        "unwritten": uncompleted_visits(today)[:20],
        "earlier": _week_address(start - timedelta(days=7), who),
        "later": _week_address(start + timedelta(days=7), who),
        "this_week": _week_address(today, who),
        "month": f"{reverse('clients:diary-month')}?month={start:%Y-%m}",
    }
    return render(request, "clients/visits/diary.html", context)


@require_GET
@needs(Power.SEE_CARE)
def month(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    first = _month_of(request.GET.get("month", ""), today)
    length = monthrange(first.year, first.month)[1]
    start = first - timedelta(days=first.weekday())
    end = first + timedelta(days=length - 1)
    shown = (end + timedelta(days=6 - end.weekday()) - start).days + 1
    days = diary(start, shown)
    context = {
        "weeks": [
            {
                "address": _week_address(days[at].day),
                "number": days[at].day.isocalendar().week,
                "days": days[at : at + 7],
            }
            for at in range(0, shown, 7)
        ],
        "first": first,
        "today": today,
        "heading": f"{MONTH_NAMES[first.month - 1]} {first.year}",
        "earlier": f"?month={first - timedelta(days=1):%Y-%m}",
        "later": f"?month={end + timedelta(days=1):%Y-%m}",
        "week": _week_address(first),
    }
    return render(request, "clients/visits/month.html", context)


def _week_of(text: str, today: date) -> date:
    """The Monday of an ISO week such as 2026-W48; of this week for anything else."""
    try:
        year, _, number = text.partition("-W")
        monday = date.fromisocalendar(int(year), int(number), 1)
    except ValueError:
        monday = today - timedelta(days=today.weekday())
    return min(max(monday, EARLIEST), LATEST)


def _month_of(text: str, today: date) -> date:
    try:
        first = date.fromisoformat(f"{text}-01")
    except ValueError:
        first = today.replace(day=1)
    return min(max(first, EARLIEST.replace(day=1)), LATEST)


def _week_address(day: date, who: User | None = None) -> str:
    year, number, _ = day.isocalendar()
    person = f"&who={who.pk}" if who else ""
    return f"{reverse('clients:diary')}?week={year}-W{number:02}{person}"


def _short(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _chosen_person(request: HttpRequest) -> tuple[list[User], User | None]:
    people = list(practitioners())
    wanted = request.GET.get("who", "")
    return people, next((person for person in people if str(person.pk) == wanted), None)
