"""Reading the schedules of the calculator's file: the guideline, the options and the limits of a budget."""

from collections.abc import Mapping
from decimal import Decimal

from billing.money.monthly import MonthlyPlan
from billing.money.packages import Package
from billing.money.portion import Discount
from billing.quotes.reading import Keys, below
from billing.quotes.reading_prices import LONGEST_DAYS, MOST_NAMED, PricesReader
from billing.quotes.request import Budget, Hire, Horse, HorsePlan, Option, hires_alone
from clients.plans.cadence import DaysOff, Kind, OnDayOff, Phase, Schedule
from clients.plans.coverage import Guideline
from clients.plans.recurrence import WrongRule, read_rule

LONGEST_EVERY = 3660
LONGEST_TOLERANCE = 366
MOST_PHASES = 100
MOST_OPTIONS = 500
MOST_DAYS_OFF = 4000
MOST_VISITS_PER_WEEK = 21
MINUTES_IN_A_DAY = 24 * 60


class PlansReader(PricesReader):
    """Remembers which place was the first to need a kind of session, or a hire; `days` is the term once it is known."""

    def __init__(self) -> None:
        super().__init__()
        self.needs: dict[Kind, str] = {}
        self.hires: str | None = None
        self.days = LONGEST_DAYS

    def guideline(self, value: object) -> Guideline:
        found = self.keys(value, "guideline", ("phases",), ("tolerance_days", "spot_needs_full_within"))
        tolerance, within = found.get("tolerance_days", 0), found.get("spot_needs_full_within", 3)
        return Guideline(
            phases=self.phases(found["phases"], "guideline.phases") if "phases" in found else (),
            tolerance_days=self.whole(tolerance, "guideline.tolerance_days", 0, LONGEST_TOLERANCE),
            spot_needs_full_within=self.whole(within, "guideline.spot_needs_full_within", 0, LONGEST_TOLERANCE),
        )

    def phases(self, value: object, place: str) -> tuple[Phase, ...]:
        return tuple(self.phase(entry, at) for at, entry in self.items(value, place, 1, MOST_PHASES))

    def phase(self, value: object, place: str) -> Phase:
        found = self.keys(value, place, ("days",), ("full_every", "full_rule", "spots_per_day"))
        days = self.whole(found.get("days", 1), f"{place}.days", 1, LONGEST_DAYS)
        spots = self.whole(found.get("spots_per_day", 0), f"{place}.spots_per_day", 0, 2)
        every: int | None = None
        rule = ""
        if "full_every" in found:
            every = self.whole(found["full_every"], f"{place}.full_every", 1, LONGEST_EVERY)
        if "full_rule" in found:
            rule = self.rule(found["full_rule"], f"{place}.full_rule")
        if "full_every" in found and "full_rule" in found:
            self.wrong(place, "full_every or full_rule, not both")
            rule = ""
        if every is not None or rule:
            self.needs.setdefault(Kind.FULL, place)
        if spots:
            self.needs.setdefault(Kind.SPOT, place)
        return Phase(days=days, full_every=every, full_rule=rule, spots_per_day=spots)

    def rule(self, value: object, place: str) -> str:
        text = self.text(value, place)
        if not text:
            return ""
        try:
            read_rule(text)
        except WrongRule as error:
            self.wrong(place, f"not a rule by days: {error}")
            return ""
        return text

    def options(self, value: object, horses: tuple[Horse, ...]) -> tuple[Option, ...]:
        names: dict[str, str] = {}
        options: list[Option] = []
        for place, entry in self.items(value, "options", 1, MOST_OPTIONS):
            found = self.keys(entry, place, ("name", "horses"), ("packages", "discount"))
            name = self.text(found["name"], f"{place}.name") if "name" in found else ""
            if name in names:
                self.wrong(f"{place}.name", f"already the name of {names[name]}")
            elif name:
                names[name] = place
            plans = self.plans(found["horses"], f"{place}.horses", horses) if "horses" in found else {}
            packages = self.bought(found["packages"], f"{place}.packages", horses) if "packages" in found else {}
            discount = self.discount(found["discount"], f"{place}.discount") if "discount" in found else None
            options.append(Option(name, plans, packages, discount))
        return tuple(options)

    def bought(self, value: object, place: str, horses: tuple[Horse, ...]) -> dict[str, tuple[Package, ...]]:
        """The packages that each owner buys."""
        owners = {horse.owner for horse in horses}
        bought: dict[str, tuple[Package, ...]] = {}
        for owner, entries in (self.mapping(value, place) or {}).items():
            at = below(place, owner)
            if owner not in owners:
                self.wrong(at, "not one of the owners")
            named = [(spot, self.text(entry, spot)) for spot, entry in self.items(entries, at, 0, MOST_NAMED)]
            for spot, name in named:
                if name and name not in self.packages:
                    self.wrong(spot, "not one of the packages")
            bought[owner] = tuple(self.packages[name] for _spot, name in named if name in self.packages)
        return bought

    def discount(self, value: object, place: str) -> Discount:
        found = self.keys(value, place, ("reason",), ("percent", "amount"))
        reason = self.text(found["reason"], f"{place}.reason") if "reason" in found else ""
        return Discount(self.portion(found, place), reason)

    def plans(self, value: object, place: str, horses: tuple[Horse, ...]) -> dict[str, HorsePlan]:
        found = self.mapping(value, place) or {}
        known = {horse.name for horse in horses}
        for horse in horses:
            if horse.name not in found:
                self.wrong(below(place, horse.name), "missing: an option names every horse")
        for name in found:
            if name not in known:
                self.wrong(below(place, name), "not one of the horses")
        plans = {name: self.plan(each, below(place, name)) for name, each in found.items()}
        for name, plan in plans.items():
            if (
                plan.hire is not None
                and plan.hire.machine_of
                and not hires_alone(Option("", plans), plan.hire.machine_of)
            ):
                self.wrong(
                    f"{below(place, name)}.with", "must be a horse of this option that hires a machine of its own"
                )
        return plans

    def plan(self, value: object, place: str) -> HorsePlan:
        found = self.keys(
            value, place, ("by", "phases"), ("days_off", "on_day_off", "follow_ups", "with", "monthly", "shift")
        )
        by = self.choice(found.get("by", "visits"), f"{place}.by", ("visits", "hire"))
        on_day_off = self.choice(found.get("on_day_off", "keep"), f"{place}.on_day_off", tuple(OnDayOff))
        schedule = Schedule(
            phases=self.phases(found["phases"], f"{place}.phases") if "phases" in found else (),
            days_off=self.days_off(found.get("days_off", []), f"{place}.days_off"),
            on_day_off=OnDayOff(on_day_off),
        )
        follow_ups = self.whole(found.get("follow_ups", 0), f"{place}.follow_ups", 0, self.days)
        shift = self.whole(found.get("shift", 0), f"{place}.shift", 0, self.days - 1)
        if by == "hire":
            self.hires = self.hires or place
            machine_of = self.text(found["with"], f"{place}.with") if "with" in found else ""
            if machine_of and follow_ups:
                self.wrong(f"{place}.follow_ups", f"set with {machine_of}, whose machine this is")
            if "monthly" in found:
                self.wrong(f"{place}.monthly", "only for visits")
            return HorsePlan(hire=Hire(schedule, follow_ups, machine_of), shift=shift)
        if follow_ups and found.get("by") == "visits":
            self.wrong(f"{place}.follow_ups", "only for a hire")
        if "with" in found and found.get("by") == "visits":
            self.wrong(f"{place}.with", "only for a hire")
        monthly = self.monthly(found["monthly"], f"{place}.monthly") if "monthly" in found else None
        return HorsePlan(visits=schedule, monthly=monthly, shift=shift)

    def monthly(self, value: object, place: str) -> MonthlyPlan | None:
        name = self.text(value, place)
        if name and name not in self.plan_months:
            self.wrong(place, "not one of the monthly plans")
        return self.plan_months.get(name)

    def days_off(self, value: object, place: str) -> DaysOff:
        entries: list[str] = []
        for at, entry in self.items(value, place, 0, MOST_DAYS_OFF):
            text = self.text(entry, at)
            try:
                DaysOff.of([text] if text else [])
            except ValueError:
                self.wrong(
                    at, "must be a weekday such as SU, a date such as 2026-03-17 or a calendar such as holidays US"
                )
                continue
            entries += [text] if text else []
        return DaysOff.of(entries)

    def budget(self, value: object, options: tuple[Option, ...]) -> Budget:
        """An amount, or an amount with limits. The search hires with the most follow-ups that an option does."""
        hires = [plan.hire for option in options for plan in option.plans.values() if plan.hire is not None]
        follow_ups = max((hire.follow_ups for hire in hires), default=0)
        if not isinstance(value, Keys):
            return Budget(self.money(value, "budget"), follow_ups=follow_ups)
        limits = ("visits_per_week", "owner_minutes_per_day", "days_off", "on_day_off")
        found = self.keys(value, "budget", ("amount",), limits)
        return Budget(
            amount=self.money(found["amount"], "budget.amount") if "amount" in found else Decimal(0),
            visits_per_week=self.limit(found, "visits_per_week", MOST_VISITS_PER_WEEK),
            owner_minutes_per_day=self.limit(found, "owner_minutes_per_day", MINUTES_IN_A_DAY),
            days_off=self.days_off(found.get("days_off", []), "budget.days_off"),
            on_day_off=self.choice(found.get("on_day_off", "keep"), "budget.on_day_off", tuple(OnDayOff)),
            follow_ups=follow_ups,
        )

    def limit(self, found: Mapping[str, object], name: str, most: int) -> int | None:
        return self.whole(found[name], f"budget.{name}", 0, most) if name in found else None
