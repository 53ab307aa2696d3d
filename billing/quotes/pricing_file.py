"""The calculator's file: read, checked whole, and priced. README shows one with its answer."""

from collections.abc import Mapping
from decimal import Decimal

from billing.money.call_out import CallOut, Split
from billing.money.hire import HireRates
from billing.money.pricing import Break, Service
from billing.money.tax import Rounding, Tax
from billing.quotes.answer import as_json, as_table
from billing.quotes.budget import search
from billing.quotes.comparison import compare
from billing.quotes.reading import Reader, WrongFile, below, parse_json
from billing.quotes.request import Budget, Hire, Horse, HorsePlan, Option, OtherStop, PricingRequest
from clients.plans.cadence import DaysOff, Kind, OnDayOff, Phase, Schedule
from clients.plans.coverage import Guideline
from clients.plans.recurrence import WrongRule, read_rule

LONGEST_DAYS = 3660
LONGEST_EVERY = 3660
LONGEST_TOLERANCE = 366
MOST_MINUTES = 600
MOST_PHASES = 100
MOST_BREAKS = 50
MOST_HORSES = 200
MOST_OPTIONS = 500
MOST_OTHERS = 10_000
MOST_DAYS_OFF = 4000

REQUIRED = ("currency", "start", "days", "services", "call_out", "horses", "options")
OPTIONAL = ("hire", "guideline", "tax", "others", "budget")


def price_file(content: bytes, *, json: bool = False) -> str:
    """Price a calculator file: a table in plain text, or JSON. Raises `WrongFile` with every error by its place."""
    request = read_pricing_file(content)
    comparison = compare(request)
    best = search(request)
    return as_json(comparison, best) if json else as_table(comparison, best)


def read_pricing_file(content: bytes) -> PricingRequest:
    """The request of a calculator file; raises `WrongFile` with every error by its place."""
    reading = FileReader()
    request = reading.request(parse_json(content))
    if request is None or reading.errors:
        raise WrongFile(reading.errors)
    return request


class FileReader(Reader):
    """Reads each part of the calculator's file; remembers which place was the first to need a kind of session."""

    def __init__(self) -> None:
        super().__init__()
        self.needs: dict[Kind, str] = {}
        self.hires: str | None = None
        self.days = LONGEST_DAYS

    def request(self, value: object) -> PricingRequest | None:
        file = self.keys(value, "", REQUIRED, OPTIONAL)
        if "currency" in file:
            self.set_currency(file["currency"], "currency")
        start = self.day(file["start"], "start") if "start" in file else None
        if "days" in file:
            days = self.whole(file["days"], "days", 1, LONGEST_DAYS)
            # A wrong term limits nothing else, so that one mistake is one error.
            self.days = LONGEST_DAYS if self.errors else days
        services = self.services(file["services"]) if "services" in file else {}
        call_out = self.call_out(file["call_out"]) if "call_out" in file else CallOut()
        hire = self.hire_rates(file["hire"]) if "hire" in file else None
        guideline = self.guideline(file["guideline"]) if "guideline" in file else None
        tax = self.tax(file["tax"]) if "tax" in file else Tax()
        horses = self.horses(file["horses"]) if "horses" in file else ()
        others = self.others(file["others"]) if "others" in file else ()
        options = self.options(file["options"], horses) if "options" in file else ()
        budget = self.money(file["budget"], "budget") if "budget" in file else None
        self.check_needs(services, hire)
        if self.errors or start is None:
            return None
        if guideline is not None and not guideline.sessions(start, self.days):
            self.wrong("guideline.phases", "no session falls within the term")
            return None
        return PricingRequest(
            currency=self.currency,
            start=start,
            days=self.days,
            services=services,
            horses=horses,
            options=options,
            call_out=call_out,
            hire=hire,
            guideline=guideline,
            tax=tax,
            others=others,
            budget=_budget(budget, options),
        )

    def check_needs(self, services: Mapping[Kind, Service], hire: HireRates | None) -> None:
        for kind, place in self.needs.items():
            if kind not in services:
                self.wrong(f"services.{kind}", f"missing, and {place} needs it")
        if self.hires is not None and hire is None:
            self.wrong("hire", f"missing, and {self.hires} needs it")

    def services(self, value: object) -> dict[Kind, Service]:
        found = self.keys(value, "services", (), (Kind.FULL, Kind.SPOT))
        return {Kind(name): self.service(each, f"services.{name}") for name, each in found.items()}

    def service(self, value: object, place: str) -> Service:
        found = self.keys(value, place, ("minutes", "price"), ("breaks",))
        faults = len(self.errors)
        tiers = [Break(1, self.money(found.get("price", "0"), f"{place}.price"))]
        minutes = self.whole(found.get("minutes", 1), f"{place}.minutes", 1, MOST_MINUTES)
        for at, entry in self.items(found.get("breaks", []), f"{place}.breaks", 0, MOST_BREAKS):
            tier = self.tier(entry, at)
            # A wrong amount is not compared with its neighbor, so that one mistake is one error.
            if len(self.errors) == faults:
                self.check_tiers(tiers[-1], tier, at)
            tiers.append(tier)
        return Service(minutes=minutes, price=tiers[0].price, breaks=tuple(tiers[1:]))

    def tier(self, value: object, place: str) -> Break:
        found = self.keys(value, place, ("from", "price"))
        at_least = self.whole(found.get("from", 2), f"{place}.from", 2, LONGEST_DAYS)
        return Break(at_least, self.money(found.get("price", "0"), f"{place}.price"))

    def check_tiers(self, before: Break, tier: Break, place: str) -> None:
        if tier.at_least <= before.at_least:
            self.wrong(f"{place}.from", f"more than {before.at_least}")
        if tier.price > before.price:
            self.wrong(f"{place}.price", f"at most {before.price}, the price before it")

    def call_out(self, value: object) -> CallOut:
        found = self.keys(value, "call_out", ("amount",), ("split",))
        split = self.choice(found.get("split", "none"), "call_out.split", tuple(Split))
        return CallOut(self.money(found.get("amount", "0"), "call_out.amount"), Split(split))

    def hire_rates(self, value: object) -> HireRates:
        found = self.keys(value, "hire", ("day", "week", "training", "follow_up"), ("delivery", "deposit"))
        prices = {
            name: self.money(found.get(name, "0"), f"hire.{name}")
            for name in ("day", "week", "training", "follow_up", "delivery", "deposit")
        }
        return HireRates(**prices)

    def tax(self, value: object) -> Tax:
        found = self.keys(value, "tax", ("rate",), ("rounding", "included"))
        rounding = self.choice(found.get("rounding", "total"), "tax.rounding", tuple(Rounding))
        return Tax(
            rate=self.percent(found.get("rate", "0"), "tax.rate"),
            rounding=Rounding(rounding),
            included=self.flag(found.get("included", False), "tax.included"),
        )

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

    def horses(self, value: object) -> tuple[Horse, ...]:
        found = self.mapping(value, "horses")
        if found is None:
            return ()
        if not 1 <= len(found) <= MOST_HORSES:
            self.wrong("horses", f"from 1 to {MOST_HORSES}")
        return tuple(self.horse(name, each) for name, each in found.items())

    def horse(self, name: str, value: object) -> Horse:
        place = below("horses", name)
        if not name.strip() or len(name) > 200:
            self.wrong(place, "a horse has a name of at most 200 characters")
        found = self.keys(value, place, ("owner",))
        return Horse(name, self.text(found["owner"], f"{place}.owner") if "owner" in found else "")

    def others(self, value: object) -> tuple[OtherStop, ...]:
        return tuple(self.other(entry, at) for at, entry in self.items(value, "others", 0, MOST_OTHERS))

    def other(self, value: object, place: str) -> OtherStop:
        found = self.keys(value, place, ("date", "owner", "horses"))
        return OtherStop(
            on=self.day(found.get("date", "2000-01-01"), f"{place}.date"),
            owner=self.text(found.get("owner", "-"), f"{place}.owner"),
            horses=self.whole(found.get("horses", 1), f"{place}.horses", 1, MOST_HORSES),
        )

    def options(self, value: object, horses: tuple[Horse, ...]) -> tuple[Option, ...]:
        names: dict[str, str] = {}
        options: list[Option] = []
        for place, entry in self.items(value, "options", 1, MOST_OPTIONS):
            found = self.keys(entry, place, ("name", "horses"))
            name = self.text(found["name"], f"{place}.name") if "name" in found else ""
            if name in names:
                self.wrong(f"{place}.name", f"already the name of {names[name]}")
            elif name:
                names[name] = place
            plans = self.plans(found["horses"], f"{place}.horses", horses) if "horses" in found else {}
            options.append(Option(name, plans))
        return tuple(options)

    def plans(self, value: object, place: str, horses: tuple[Horse, ...]) -> dict[str, HorsePlan]:
        found = self.mapping(value, place) or {}
        known = {horse.name for horse in horses}
        for horse in horses:
            if horse.name not in found:
                self.wrong(below(place, horse.name), "missing: an option names every horse")
        for name in found:
            if name not in known:
                self.wrong(below(place, name), "not one of the horses")
        return {name: self.plan(each, below(place, name)) for name, each in found.items()}

    def plan(self, value: object, place: str) -> HorsePlan:
        found = self.keys(value, place, ("by", "phases"), ("days_off", "on_day_off", "follow_ups"))
        by = self.choice(found.get("by", "visits"), f"{place}.by", ("visits", "hire"))
        on_day_off = self.choice(found.get("on_day_off", "keep"), f"{place}.on_day_off", tuple(OnDayOff))
        schedule = Schedule(
            phases=self.phases(found["phases"], f"{place}.phases") if "phases" in found else (),
            days_off=self.days_off(found.get("days_off", []), f"{place}.days_off"),
            on_day_off=OnDayOff(on_day_off),
        )
        follow_ups = self.whole(found.get("follow_ups", 0), f"{place}.follow_ups", 0, self.days)
        if by == "hire":
            self.hires = self.hires or place
            return HorsePlan(hire=Hire(schedule, follow_ups))
        if follow_ups and found.get("by") == "visits":
            self.wrong(f"{place}.follow_ups", "only for a hire")
        return HorsePlan(visits=schedule)

    def days_off(self, value: object, place: str) -> DaysOff:
        entries: list[str] = []
        for at, entry in self.items(value, place, 0, MOST_DAYS_OFF):
            text = self.text(entry, at)
            try:
                DaysOff.of([text] if text else [])
            except ValueError:
                self.wrong(at, "must be a weekday such as SU or a date such as 2026-03-17")
                continue
            entries += [text] if text else []
        return DaysOff.of(entries)


def _budget(amount: Decimal | None, options: tuple[Option, ...]) -> Budget | None:
    """The search hires with as many follow-ups as the file's options do at most, or with none."""
    if amount is None:
        return None
    hires = [plan.hire for option in options for plan in option.plans.values() if plan.hire is not None]
    return Budget(amount, follow_ups=max((hire.follow_ups for hire in hires), default=0))
