"""A quote written as the calculator's file: what screens, paper and `manage.py price` all price from."""

import json
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import prefetch_related_objects

from backoffice.business.queries import the_business
from billing.packages.models import MonthlyPlan, Package
from billing.packages.queries import monthly_plans_on_sale, packages_on_sale
from billing.prices.distance import distance_to
from billing.prices.models import CallOutBand, CallOutRule, HireRate, Price, TaxRate
from billing.prices.queries import call_out_for, hire_rate_on, money_rules_on, price_of, tax_rate_of
from billing.prices.rules import MoneyRules
from billing.quotes.models import Option, OptionSchedule, Quote
from billing.quotes.pricing_file import read_pricing_file
from billing.quotes.request import PricingRequest
from clients.animals.models import Animal, Ownership
from clients.animals.queries import owners_on
from clients.people.models import Barn
from clients.plans.models import GuidelineVersion, PhaseFields, Service
from clients.visits.models import Visit

File = dict[str, Any]


def request_of(quote: Quote, *, on: date, with_hidden: bool = False) -> PricingRequest:
    """What the quote asks to be priced: as it was offered, or a draft at the prices of `on`.

    Raises `WrongFile` for a draft that cannot be priced yet, with each reason by its place.
    """
    file = quote.frozen if quote.frozen is not None else file_of(quote, on=on, with_hidden=with_hidden)
    return read_pricing_file(json.dumps(file).encode())


def file_of(quote: Quote, *, on: date, with_hidden: bool = False) -> File:
    """The calculator's file of a quote, with the prices, rates and owners of the day `on`; hidden options stay out."""
    animals = [horse.animal for horse in quote.horses.select_related("animal__barn")]
    names = horse_names(animals)
    owners = {pk: owner_name(shares) for pk, shares in owners_on(animals, on).items()}
    rule = call_out_for(animals[0].barn, on)
    rules = money_rules_on(on)
    file: File = {
        "currency": quote.currency,
        "start": quote.start.isoformat(),
        "days": quote.days,
        "services": _services(quote, on),
        "call_out": _call_out(rule, animals[0].barn),
        "tax": _tax(tax_rate_of("standard", quote.person, on), rules),
        "horses": {names[animal.pk]: {"owner": owners[animal.pk]} for animal in animals},
        "others": _others(quote, animals, on),
        "options": _options(quote, names, list(dict.fromkeys(owners[animal.pk] for animal in animals)), with_hidden),
        **_prepaid(quote, on),
    }
    hire = hire_rate_on(on)
    if hire is not None:
        file["hire"] = _hire(hire)
    if quote.guideline_version is not None:
        file["guideline"] = _guideline(quote.guideline_version)
    if rules.deposit == MoneyRules.Deposit.PERCENT:
        file["booking_deposit"] = {"percent": _plain(rules.deposit_percent)}
    elif rules.deposit == MoneyRules.Deposit.AMOUNT:
        file["booking_deposit"] = {"amount": _plain(rules.deposit_amount)}
    if quote.budget is not None:
        file["budget"] = _plain(quote.budget)
    return file


def horse_names(animals: Iterable[Animal]) -> dict[int, str]:
    """Each horse's name in the file; a second one of the same name carries its number."""
    names: dict[int, str] = {}
    for animal in animals:
        names[animal.pk] = animal.name if animal.name not in names.values() else f"{animal.name} ({animal.pk})"
    return names


def owner_name(shares: Sequence[Ownership]) -> str:
    """The owner, or all co-owners, as one name: together they are one owner of a stop."""
    return ", ".join(ownership.person.name for ownership in shares)[:200] or "owner not named"


def _plain(amount: Decimal) -> str:
    text = f"{amount:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _services(quote: Quote, on: date) -> File:
    services = {"full": quote.full_service, "spot": quote.spot_service}
    return {
        kind: _service(service, price)
        for kind, service in services.items()
        if service is not None and (price := price_of(service, quote.price_list, on)) is not None
    }


def _service(service: Service, price: Price) -> File:
    breaks = [{"from": each.count, "price": _plain(each.amount)} for each in price.breaks.all()]
    return {"minutes": service.minutes, "price": _plain(price.amount), "breaks": breaks}


def _call_out(rule: CallOutRule | None, barn: Barn) -> File:
    """A rule by distance carries the barn's own, which is left out while a place is not known."""
    if rule is None:
        return {"amount": "0"}
    values: File = {"split": rule.split}
    if rule.way == CallOutRule.Way.FLAT:
        return {"amount": _plain(rule.amount), **values}
    if rule.way == CallOutRule.Way.BANDS:
        values["bands"] = [_band(band) for band in rule.bands.all()]
    else:
        values.update(free=_plain(rule.free), per_unit=_plain(rule.per_unit))
    if rule.minimum:
        values["minimum"] = _plain(rule.minimum)
    away = distance_to(barn, the_business())
    return values if away is None else {**values, "distance": _plain(away)}


def _band(band: CallOutBand) -> File:
    end = {} if band.to is None else {"to": _plain(band.to)}
    return {**end, "amount": _plain(band.amount)}


def _tax(rate: TaxRate | None, rules: MoneyRules) -> File:
    percent = {"rate": _plain(rate.percent), "included": rate.is_included} if rate else {"rate": "0"}
    return percent if rules.tax_rounding == MoneyRules.Rounding.TOTAL else {**percent, "rounding": rules.tax_rounding}


def _hire(rate: HireRate) -> File:
    fields = [
        "day",
        "week",
        "training",
        "follow_up",
        "delivery",
        "deposit",
        *(["collection"] if rate.collection else []),
    ]
    return {name: _plain(getattr(rate, name)) for name in fields}


def _guideline(version: GuidelineVersion) -> File:
    return {
        "phases": [phase_values(phase) for phase in version.phases.all()],
        "tolerance_days": version.tolerance_days,
        "spot_needs_full_within": version.spot_needs_full_within,
    }


def phase_values(phase: PhaseFields) -> File:
    values: File = {"days": phase.days, "spots_per_day": phase.spots_per_day}
    if phase.full_every is not None:
        values["full_every"] = phase.full_every
    if phase.full_rule:
        values["full_rule"] = phase.full_rule
    return values


def _prepaid(quote: Quote, on: date) -> File:
    """The packages and monthly plans that hold sessions of this quote: those on sale, and those that options name."""
    kinds = {quote.full_service_id: "full", quote.spot_service_id: "spot"}
    packages = {each.name: each for each in packages_on_sale(on)}
    plans = {each.name: each for each in monthly_plans_on_sale(on)}
    values: File = {}
    if sold := [entry for each in packages.values() if (entry := _package(each, kinds))["sessions"]]:
        values["packages"] = sold
    if running := [entry for each in plans.values() if (entry := _monthly(each, kinds))["sessions"]]:
        values["monthly"] = running
    return values


def _package(package: Package, kinds: dict[int | None, str]) -> File:
    sessions = {kinds[part.service_id]: part.count for part in package.parts.all() if part.service_id in kinds}
    values: File = {"name": package.name, "price": _plain(package.price), "sessions": sessions}
    return values if package.valid_days is None else {**values, "days": package.valid_days}


def _monthly(plan: MonthlyPlan, kinds: dict[int | None, str]) -> File:
    parts = [part for part in plan.parts.all() if part.service_id in kinds]
    beyond = {kinds[part.service_id]: _plain(part.beyond) for part in parts if part.beyond is not None}
    return {
        "name": plan.name,
        "price": _plain(plan.price),
        "sessions": {kinds[part.service_id]: part.count for part in parts},
        "beyond": beyond,
    }


def _options(quote: Quote, names: dict[int, str], owners: Sequence[str], with_hidden: bool) -> list[File]:
    options = laid_options(quote)
    return [_option(option, names, owners) for option in options if with_hidden or not option.is_hidden]


def laid_options(quote: Quote) -> list[Option]:
    """The options with all that is drawn of them; read once where the quote was fetched with its options."""
    options = list(quote.options.all())
    prefetch_related_objects(options, "schedules__phases", "package", "monthly_plan")
    return options


def _option(option: Option, names: dict[int, str], owners: Sequence[str]) -> File:
    plans = {names[each.animal_id]: _plan(each, names) for each in option.schedules.all()}
    if option.monthly_plan is not None:
        for plan in plans.values():
            plan.update({} if plan["by"] == OptionSchedule.By.HIRE else {"monthly": option.monthly_plan.name})
    values: File = {"name": option.name, "horses": plans}
    if option.package is not None:
        values["packages"] = {owner: [option.package.name] for owner in owners}
    if option.discount_percent is not None:
        values["discount"] = {"percent": _plain(option.discount_percent)}
    elif option.discount_amount is not None:
        values["discount"] = {"amount": _plain(option.discount_amount)}
    if "discount" in values:
        values["discount"]["reason"] = option.discount_reason
    return values


def _plan(schedule: OptionSchedule, names: dict[int, str]) -> File:
    values: File = {
        "by": schedule.by,
        "phases": [phase_values(phase) for phase in schedule.phases.all()],
        "days_off": schedule.days_off,
        "on_day_off": schedule.on_day_off,
    }
    if schedule.hired_with_id is not None:
        values["with"] = names[schedule.hired_with_id]
    elif schedule.by == OptionSchedule.By.HIRE:
        values["follow_ups"] = schedule.follow_ups
    if schedule.shift:
        values["shift"] = schedule.shift
    return values


def _others(quote: Quote, animals: Sequence[Animal], on: date) -> list[File]:
    """What the diary already holds at this barn in the term, for other horses, by date and owner."""
    visits = list(
        Visit.objects.filter(
            barn=animals[0].barn,
            day__range=(quote.start, quote.start + timedelta(days=quote.days - 1)),
            part=1,
            status=Visit.Status.BOOKED,
        )
        .exclude(animal__in=animals)
        .select_related("animal")
    )
    owners = {pk: owner_name(shares) for pk, shares in owners_on({v.animal for v in visits}, on).items()}
    counts: dict[tuple[str, str], set[int]] = {}
    for visit in visits:
        counts.setdefault((visit.day.isoformat(), owners[visit.animal_id]), set()).add(visit.animal_id)
    return [{"date": day, "owner": owner, "horses": len(horses)} for (day, owner), horses in sorted(counts.items())]
