from collections.abc import Sequence
from datetime import date, datetime

from django.db import models
from django.db.models import QuerySet

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from billing.journal.actions import look_again_from
from billing.prices.models import PriceList, Rate

Rows = Sequence[models.Model]


@audit.action
def record_rate(*, rate: Rate, at: datetime, by: User, rows: Rows = ()) -> None:
    """Start a price, rule or rate on its day; the one before it ends there. What has begun stands as it is."""
    _refuse_rewriting(_siblings(rate), since=rate.since, today=local_date(at))
    _refuse_odd_rows(rate, rows)
    rate.save()
    _write_rows(rate, rows)
    look_again_from(rate.since)
    audit.record(f"{rate._meta.verbose_name} recorded", rate, at=at, by=by, changes={"since": rate.since})


@audit.action
def change_rate(*, rate: Rate, at: datetime, by: User, rows: Rows = ()) -> None:
    """Mend a row whose day has not passed; `rate` carries the new values."""
    today = local_date(at)
    before = type(rate)._default_manager.select_for_update().get(pk=rate.pk)
    _refuse_passed(before, today)
    _refuse_rewriting(_siblings(rate).exclude(pk=rate.pk), since=rate.since, today=today)
    _refuse_odd_rows(rate, rows)
    rate.save()
    _write_rows(rate, rows)
    look_again_from(rate.since)
    audit.record(f"{rate._meta.verbose_name} changed", rate, at=at, by=by, changes={"since": rate.since})


@audit.action
def take_back_rate(*, rate: Rate, at: datetime, by: User) -> None:
    """Remove a row whose day has not passed, so that the one before it goes on."""
    rate = type(rate)._default_manager.select_for_update().get(pk=rate.pk)
    _refuse_passed(rate, local_date(at))
    audit.record(f"{rate._meta.verbose_name} taken back", rate, at=at, by=by, changes={"since": rate.since})
    rate.delete()


@audit.action
def save_price_list(*, price_list: PriceList, at: datetime, by: User) -> PriceList:
    """Keep a list; there is always exactly one that holds where nothing else is agreed."""
    others = PriceList.objects.select_for_update().exclude(pk=price_list.pk)
    if price_list.is_default:
        others.filter(is_default=True).update(is_default=False)
    elif not others.filter(is_default=True).exists():
        price_list.is_default = True
    price_list.save()
    audit.record("price list kept", price_list, at=at, by=by, changes={"is_default": price_list.is_default})
    return price_list


def _siblings(rate: Rate) -> QuerySet[Rate]:
    """The rows that take turns with this one."""
    rows: QuerySet[Rate] = type(rate)._default_manager.all()
    return rows.filter(**{name: getattr(rate, name) for name in rate.turns})


def _refuse_passed(rate: Rate, today: date) -> None:
    if rate.since < today:
        raise Refused(
            f"This has been in force since {rate.since:%-d %b %Y} and is part of the past. "
            "Record a new one: it ends this one on its first day."
        )


def _refuse_rewriting(siblings: QuerySet[Rate], *, since: date, today: date) -> None:
    days = list(siblings.values_list("since", flat=True))
    if since in days:
        raise Refused(f"Something is recorded from {since:%-d %b %Y} already. Choose another day, or change that one.")
    if since < today and any(day <= today for day in days):
        raise Refused("The past is never rewritten: a new one starts today or later.")


def _refuse_odd_rows(rate: Rate, rows: Rows) -> None:
    problem = rate.problem_with(rows)
    if problem:
        raise Refused(problem)


def _write_rows(rate: Rate, rows: Rows) -> None:
    if not rate.rows:
        return
    kept = getattr(rate, rate.rows)
    kept.all().delete()
    for row in rows:
        setattr(row, kept.field.name, rate)
    kept.model._default_manager.bulk_create(rows)
