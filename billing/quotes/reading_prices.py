"""Reading the prices of the calculator's file: services, call-outs, packages, plan months, hire, tax."""

from collections.abc import Mapping
from decimal import Decimal

from billing.money.call_out import CallOut, Split
from billing.money.distance import Band, amount_beyond_radius, amount_by_bands
from billing.money.hire import HireRates
from billing.money.monthly import MonthlyPlan
from billing.money.packages import Package
from billing.money.portion import Portion
from billing.money.pricing import Break, Service
from billing.money.tax import Rounding, Tax
from billing.quotes.reading import Keys, Reader, below
from clients.plans.cadence import Kind

LONGEST_DAYS = 3660
MOST_MINUTES = 600
MOST_BREAKS = 50
MOST_BANDS = 50
MOST_NAMED = 50
FINEST_DISTANCE = 3
FINEST_RATE = 4


class PricesReader(Reader):
    """Remembers the packages and plan months that it read, by name."""

    def __init__(self) -> None:
        super().__init__()
        self.packages: dict[str, Package] = {}
        self.plan_months: dict[str, MonthlyPlan] = {}

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
        """Every kind of call-out as one amount a stop: flat, by bands of distance, or beyond a free radius."""
        place = "call_out"
        has = value if isinstance(value, Keys) else Keys([])
        if "bands" in has:
            found = self.keys(value, place, ("bands", "distance"), ("minimum", "split"))
            amount = self.by_bands(found)
        elif "free" in has or "per_unit" in has:
            found = self.keys(value, place, ("free", "per_unit", "distance"), ("minimum", "split"))
            amount = self.beyond_radius(found)
        else:
            found = self.keys(value, place, ("amount",), ("minimum", "split"))
            amount = self.money(found.get("amount", "0"), "call_out.amount")
        split = self.choice(found.get("split", "none"), "call_out.split", tuple(Split))
        return CallOut(max(amount, self.money(found.get("minimum", "0"), "call_out.minimum")), Split(split))

    def by_bands(self, found: Mapping[str, object]) -> Decimal:
        distance = self.distance(found.get("distance", "0"), "call_out.distance")
        faults = len(self.errors)
        bands: list[Band] = []
        for place, entry in self.items(found.get("bands", []), "call_out.bands", 1, MOST_BANDS):
            band = self.band(entry, place)
            before = bands[-1] if bands else None
            if before is not None and before.to is None:
                self.wrong(place, "stands after a band without an end")
            elif before is not None and before.to is not None and band.to is not None and band.to <= before.to:
                self.wrong(f"{place}.to", f"more than {before.to}")
            bands.append(band)
        amount = amount_by_bands(bands, distance)
        if amount is None and len(self.errors) == faults:
            self.wrong("call_out.distance", f"beyond the last band, which ends at {bands[-1].to}")
        return amount or Decimal(0)

    def band(self, value: object, place: str) -> Band:
        found = self.keys(value, place, ("amount",), ("to",))
        to = self.distance(found["to"], f"{place}.to") if "to" in found else None
        return Band(self.money(found.get("amount", "0"), f"{place}.amount"), to)

    def beyond_radius(self, found: Mapping[str, object]) -> Decimal:
        free = self.distance(found.get("free", "0"), "call_out.free")
        per_unit = self.decimal(
            found.get("per_unit", "0"), "call_out.per_unit", FINEST_RATE, f"at most {FINEST_RATE} decimals"
        )
        distance = self.distance(found.get("distance", "0"), "call_out.distance")
        return amount_beyond_radius(free, per_unit, distance, self.currency)

    def distance(self, value: object, place: str) -> Decimal:
        return self.decimal(value, place, FINEST_DISTANCE, f"at most {FINEST_DISTANCE} decimals")

    def hire_rates(self, value: object) -> HireRates:
        found = self.keys(
            value, "hire", ("day", "week", "training", "follow_up"), ("delivery", "deposit", "collection")
        )
        prices = {
            name: self.money(found.get(name, "0"), f"hire.{name}")
            for name in ("day", "week", "training", "follow_up", "delivery", "deposit")
        }
        collection = self.money(found["collection"], "hire.collection") if "collection" in found else None
        return HireRates(**prices, collection=collection)

    def tax(self, value: object) -> Tax:
        found = self.keys(value, "tax", ("rate",), ("rounding", "included"))
        rounding = self.choice(found.get("rounding", "total"), "tax.rounding", tuple(Rounding))
        return Tax(
            rate=self.percent(found.get("rate", "0"), "tax.rate"),
            rounding=Rounding(rounding),
            included=self.flag(found.get("included", False), "tax.included"),
        )

    def read_packages(self, value: object) -> tuple[Package, ...]:
        """The packages on sale; an option names those that an owner buys."""
        for place, entry in self.items(value, "packages", 0, MOST_NAMED):
            found = self.keys(entry, place, ("name", "price", "sessions"), ("days",))
            name = self.name(found, place, self.packages)
            self.packages[name] = Package(
                name=name,
                price=self.money(found.get("price", "0"), f"{place}.price"),
                sessions=self.session_counts(found, place),
                days=self.whole(found["days"], f"{place}.days", 1, LONGEST_DAYS) if "days" in found else None,
            )
        return tuple(self.packages.values())

    def read_plan_months(self, value: object) -> None:
        for place, entry in self.items(value, "monthly", 0, MOST_NAMED):
            found = self.keys(entry, place, ("name", "price", "sessions"), ("beyond",))
            name = self.name(found, place, self.plan_months)
            beyond = self.keys(found.get("beyond", Keys([])), f"{place}.beyond", (), (Kind.FULL, Kind.SPOT))
            self.plan_months[name] = MonthlyPlan(
                name=name,
                price=self.money(found.get("price", "0"), f"{place}.price"),
                sessions=self.session_counts(found, place),
                beyond={kind: self.money(each, f"{place}.beyond.{kind}") for kind, each in beyond.items()},
            )

    def name(self, found: Mapping[str, object], place: str, taken: Mapping[str, object]) -> str:
        name = self.text(found["name"], f"{place}.name") if "name" in found else ""
        if name in taken:
            self.wrong(f"{place}.name", "the name of another one")
        return name

    def session_counts(self, found: Mapping[str, object], place: str) -> dict[str, int]:
        if "sessions" not in found:
            return {}
        place = f"{place}.sessions"
        counts = self.keys(found["sessions"], place, (), (Kind.FULL, Kind.SPOT))
        if isinstance(found["sessions"], Keys) and not found["sessions"]:
            self.wrong(place, "at least one session")
        return {kind: self.whole(each, below(place, kind), 1, LONGEST_DAYS) for kind, each in counts.items()}

    def portion(self, found: Mapping[str, object], place: str) -> Portion:
        """A percentage or an amount."""
        if ("percent" in found) == ("amount" in found):
            self.wrong(place, "percent or amount, one of the two")
        elif "percent" in found:
            return Portion(percent=self.percent(found["percent"], f"{place}.percent"))
        return Portion(amount=self.money(found.get("amount", "0"), f"{place}.amount"))
