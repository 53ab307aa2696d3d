"""The calculator's file: read, checked whole, and priced. README shows one with its answer."""

from collections.abc import Mapping

from billing.money.call_out import CallOut
from billing.money.hire import HireRates
from billing.money.portion import Portion
from billing.money.pricing import Service
from billing.money.tax import Tax
from billing.quotes.answer import as_json, as_table
from billing.quotes.budget import search
from billing.quotes.comparison import compare
from billing.quotes.reading import WrongFile, below, parse_json
from billing.quotes.reading_plans import PlansReader
from billing.quotes.reading_prices import LONGEST_DAYS
from billing.quotes.request import Horse, OtherStop, PricingRequest
from clients.plans.cadence import Kind

MOST_HORSES = 200
MOST_OTHERS = 10_000

REQUIRED = ("currency", "start", "days", "services", "call_out", "horses", "options")
OPTIONAL = ("hire", "guideline", "tax", "others", "budget", "packages", "monthly", "booking_deposit")


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


class FileReader(PlansReader):
    """Reads the whole of the calculator's file."""

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
        packages = self.read_packages(file["packages"]) if "packages" in file else ()
        if "monthly" in file:
            self.read_plan_months(file["monthly"])
        hire = self.hire_rates(file["hire"]) if "hire" in file else None
        guideline = self.guideline(file["guideline"]) if "guideline" in file else None
        tax = self.tax(file["tax"]) if "tax" in file else Tax()
        horses = self.horses(file["horses"]) if "horses" in file else ()
        others = self.others(file["others"]) if "others" in file else ()
        options = self.options(file["options"], horses) if "options" in file else ()
        budget = self.budget(file["budget"], options) if "budget" in file else None
        deposit = self.booking_deposit(file["booking_deposit"]) if "booking_deposit" in file else None
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
            budget=budget,
            packages=packages,
            booking_deposit=deposit,
        )

    def check_needs(self, services: Mapping[Kind, Service], hire: HireRates | None) -> None:
        for kind, place in self.needs.items():
            if kind not in services:
                self.wrong(f"services.{kind}", f"missing, and {place} needs it")
        if self.hires is not None and hire is None:
            self.wrong("hire", f"missing, and {self.hires} needs it")

    def booking_deposit(self, value: object) -> Portion:
        return self.portion(self.keys(value, "booking_deposit", (), ("percent", "amount")), "booking_deposit")

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
