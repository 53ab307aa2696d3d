from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.models import F

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.refusal import Refused
from billing.journal.actions import look_again_from, open_day, post
from billing.journal.models import Account
from billing.packages.coverage import Covered
from billing.packages.models import MonthlyPlan, Package
from billing.packages.queries import income_due
from billing.packages.sold import (
    Deduction,
    MonthlyRun,
    MonthlyRunPart,
    PackageSold,
    PackageSoldPart,
    PlanMonth,
    Use,
)
from billing.prices.queries import money_rules_on
from clients.animals.models import Animal
from clients.people.models import Person
from clients.visits.models import Session


@audit.action
def sell_package(
    *,
    package: Package,
    payer: Person,
    on: date,
    at: datetime,
    by: User | None,
    animals: Sequence[Animal] = (),
    price: Decimal | None = None,
    quote_number: int | None = None,
) -> PackageSold:
    """Sell a package at its price, or at the one agreed; its charge waits to be confirmed, its sessions hold at once.

    `animals` are the horses that it serves; none: each horse that the payer alone pays for.
    """
    sold = PackageSold.objects.create(
        payer=payer,
        package=package,
        name=package.name,
        price=package.price if price is None else price,
        tax_category=package.tax_category,
        sold_on=on,
        ends_on=on + timedelta(days=package.valid_days - 1) if package.valid_days else None,
        quote_number=quote_number,
    )
    sold.animals.set(animals)
    PackageSoldPart.objects.bulk_create(
        PackageSoldPart(sold=sold, service=part.service, count=part.count) for part in package.parts.all()
    )
    changes = {"package": package, "payer": payer, "price": sold.price, "sold_on": on, "ends_on": sold.ends_on}
    audit.record("package sold", sold, at=at, by=by, changes=changes)
    return sold


@audit.action
def start_monthly_plan(
    *,
    plan: MonthlyPlan,
    animal: Animal,
    start: date,
    at: datetime,
    by: User | None,
    ends_on: date | None = None,
    price: Decimal | None = None,
    quote_number: int | None = None,
) -> MonthlyRun:
    """Have a monthly plan run for a horse at its price, or at the one agreed, each month charged on its first day.

    `ends_on` makes it a fixed term.
    """
    if ends_on is not None and ends_on < start:
        raise Refused("A monthly plan does not end before it starts.")
    if MonthlyRun.objects.filter(animal=animal, plan__name=plan.name, ends_on__isnull=True).exists():
        raise Refused(f"{plan} is running for {animal} already.")
    run = MonthlyRun.objects.create(
        animal=animal,
        plan=plan,
        name=plan.name,
        price=plan.price if price is None else price,
        tax_category=plan.tax_category,
        start=start,
        ends_on=ends_on,
        quote_number=quote_number,
    )
    MonthlyRunPart.objects.bulk_create(
        MonthlyRunPart(run=run, service=part.service, count=part.count, beyond=part.beyond) for part in plan.parts.all()
    )
    changes = {"plan": plan, "animal": animal, "price": run.price, "start": start, "ends_on": ends_on}
    audit.record("monthly plan started", run, at=at, by=by, changes=changes)
    return run


@audit.action
def stop_monthly_plan(*, run: MonthlyRun, reason: str, at: datetime, by: User) -> MonthlyRun:
    """No month after the one that today is in; before its start, it never runs."""
    run, today = MonthlyRun.objects.select_for_update().get(pk=run.pk), local_date(at)
    if not reason.strip():
        raise Refused("Stopping needs a reason.")
    if run.ends_on is not None and run.ends_on < today:
        raise Refused("This monthly plan has ended already.")
    last = run.months_until(max(today, run.start))[-1].end - timedelta(days=1)
    run.ends_on, run.stopped_reason = last, reason.strip()
    run.save(update_fields=["ends_on", "stopped_reason"])
    audit.record("monthly plan stopped", run, at=at, by=by, changes={"ends_on": last})
    return run


@audit.action
def agree_deduction(
    *,
    kind: Deduction.Kind,
    payer: Person,
    amount: Decimal,
    on: date,
    reason: str,
    at: datetime,
    by: User | None,
    quote_number: int | None = None,
) -> Deduction:
    """A booking deposit, which waits to be charged and comes off the next invoice after it; or an agreed discount."""
    if amount <= 0:
        raise Refused(f"A {kind.label.lower()} is more than nothing.")
    deduction = Deduction.objects.create(
        kind=kind, payer=payer, amount=amount, agreed_on=on, reason=reason[:200], quote_number=quote_number
    )
    changes = {"kind": kind.value, "payer": payer, "amount": amount}
    audit.record("deduction agreed", deduction, at=at, by=by, changes=changes)
    return deduction


def ask_booking_deposit(
    *, payer: Person, total: Decimal, on: date, at: datetime, by: User | None, quote_number: int | None = None
) -> Deduction | None:
    """The booking deposit by the rule of the day, as a charge to confirm; None where none is asked."""
    amount = money_rules_on(on).deposit_of(total, the_business().currency)
    if not amount:
        return None
    reason = f"booking deposit of quote {quote_number}" if quote_number else "booking deposit"
    kind = Deduction.Kind.DEPOSIT
    return agree_deduction(
        kind=kind, payer=payer, amount=amount, on=on, reason=reason, at=at, by=by, quote_number=quote_number
    )


@audit.action
def use_session(*, session: Session, covered: Covered, on: date, at: datetime, by: User) -> Use:
    """Have a package or a plan month pay for a session; `covered` comes from `Coverage.take`."""
    if Use.objects.filter(session=session, undone_at__isnull=True).exists():
        raise Refused("This session is used from a package already.")
    month = write_month(covered.month) if covered.month else None
    use = Use.objects.create(
        session=session,
        sold=covered.sold,
        month=month,
        reason=covered.reason[:200],
        used_on=on,
        confirmed_at=at,
        confirmed_by=by,
    )
    _earn(use, on)
    changes = {"session": session, "sold": use.sold_id, "month": use.month_id, "used_on": on}
    audit.record("package session used", use, at=at, by=by, changes=changes)
    return use


@audit.action
def undo_use(*, use: Use, reason: str, at: datetime, by: User) -> Use:
    """Give a session back to its package, with the reason; it waits to be charged again."""
    use = Use.objects.select_for_update(of=("self",)).select_related("sold", "month").get(pk=use.pk)
    if not reason.strip():
        raise Refused("Undoing needs a reason.")
    if use.undone_at is not None:
        raise Refused("This use is undone already.")
    if use.sold is not None and use.sold.closed_on is not None:
        raise Refused("This package is closed: its uses stand.")
    use.undone_at, use.undone_by, use.undone_reason = at, by, reason.strip()[:200]
    use.save(update_fields=["undone_at", "undone_by", "undone_reason"])
    look_again_from(use.session.visit.day)
    _earn(use, local_date(at))
    audit.record("package session given back", use, at=at, by=by, changes={"session": use.session_id})
    return use


@audit.action
def keep_rest(*, sold: PackageSold, at: datetime, by: User) -> PackageSold:
    """What a package leaves unused after its last day becomes income, where the recorded rule allows it."""
    sold, today = PackageSold.objects.select_for_update().get(pk=sold.pk), local_date(at)
    if sold.closed_on is not None:
        raise Refused("This package is closed already.")
    if sold.ends_on is None or sold.ends_on >= today:
        raise Refused("A package that has not ended keeps its sessions.")
    if not money_rules_on(today).keeps_unused:
        raise Refused(
            "You have not recorded that keeping the rest is allowed. Ask, then write it down under Settings, "
            "Deposit and rounding."
        )
    sold.closed_on = today
    sold.save(update_fields=["closed_on"])
    rest = sold.unearned
    earn_package(sold, today)
    audit.record("rest of a package kept", sold, at=at, by=by, changes={"amount": rest})
    return sold


def write_month(month: PlanMonth) -> PlanMonth:
    return PlanMonth.objects.get_or_create(run=month.run, first=month.first)[0]


def _earn(use: Use, on: date) -> None:
    if use.sold is not None:
        earn_package(use.sold, on)
    elif use.month is not None:
        earn_month(use.month, on)


def take_in(prepaid: PackageSold | PlanMonth, net: Decimal, on: date) -> None:
    """An invoice asks `net` for it: a liability, of which what is used already is income at once."""
    prepaid.net += net
    prepaid.save(update_fields=["net"])
    if isinstance(prepaid, PackageSold):
        earn_package(prepaid, on)
    else:
        earn_month(prepaid, on)


def give_back(prepaid: PackageSold | PlanMonth, net: Decimal, on: date) -> None:
    """A credit note takes `net` of it back; what was used of that leaves income. A package ends with it."""
    prepaid.net -= net
    if isinstance(prepaid, PackageSold):
        prepaid.closed_on = prepaid.closed_on or on
        prepaid.save(update_fields=["net", "closed_on"])
        earn_package(prepaid, on)
    else:
        prepaid.save(update_fields=["net"])
        earn_month(prepaid, on)


def earn_package(sold: PackageSold, on: date) -> None:
    _move(sold, sold.net if sold.closed_on else income_due(sold), on)


def earn_month(month: PlanMonth, on: date) -> None:
    """Session by session; from the day after the month on, all of it."""
    _move(month, month.net if month.end <= on else income_due(month), on)


def earn_ended_months(on: date) -> None:
    """The rest of each plan month that is over becomes income on its last day."""
    for month in PlanMonth.objects.exclude(net=F("earned")).select_related("run"):
        if month.end <= on:
            _move(month, month.net, month.end - timedelta(days=1))


def _move(prepaid: PackageSold | PlanMonth, target: Decimal, on: date) -> None:
    moved = target - prepaid.earned
    if not moved:
        return
    prepaid.earned = target
    prepaid.save(update_fields=["earned"])
    entries = [(Account.PACKAGE_LIABILITY, moved, None), (Account.INCOME_SESSIONS, -moved, None)]
    post(day=open_day(on), text=f"Used of {prepaid}"[:120], source=prepaid, entries=entries)
