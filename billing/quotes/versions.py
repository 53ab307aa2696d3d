"""Two versions of a quote side by side: what each said, and what of it changed. From the frozen files alone."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from billing.quotes.comparison import Comparison, OptionMeasures
from clients.plans.cadence import Phase
from clients.plans.days_off import say_days_off
from clients.plans.rhythm import say_phase

Value = str | Decimal | date | None
File = Mapping[str, Any]

MONEY = frozenset(
    {"price", "amount", "day", "week", "training", "follow_up", "delivery", "deposit", "collection", "minimum"}
    | {"per_unit", "beyond", "budget"}
)
NAMES = {
    "services": "",
    "full": "Full body",
    "spot": "Spot",
    "price": "",
    "minutes": "minutes",
    "breaks": "from",
    "call_out": "Call-out",
    "amount": "",
    "split": "shared by",
    "hire": "Hire",
    "day": "a day",
    "week": "a week",
    "follow_up": "follow-up",
    "deposit": "security deposit",
    "per_unit": "for each unit beyond",
    "free": "free up to",
    "tax": "Tax",
    "rate": "in percent",
    "packages": "Package",
    "monthly": "Monthly plan",
    "booking_deposit": "Booking deposit",
    "budget": "Budget",
}
PRICED = ("services", "call_out", "hire", "packages", "monthly", "tax", "booking_deposit", "budget")


@dataclass(frozen=True, slots=True)
class Priced:
    """One version: its file and what the file comes to."""

    file: File
    comparison: Comparison


@dataclass(frozen=True, slots=True)
class Fact:
    """What was said before and after; None where a version does not say it. Decimals are amounts of money."""

    group: str
    what: str
    before: Value
    after: Value

    @property
    def is_changed(self) -> bool:
        return self.before != self.after

    @property
    def kind(self) -> str:
        value = self.before if self.before is not None else self.after
        return {Decimal: "money", date: "day"}.get(type(value), "words")

    @property
    def more(self) -> Decimal | None:
        """How much dearer, where both are amounts and differ."""
        if isinstance(self.before, Decimal) and isinstance(self.after, Decimal) and self.is_changed:
            return self.after - self.before
        return None


def side_by_side(before: Priced, after: Priced) -> tuple[Fact, ...]:
    """Every fact of either version: the term, the prices, then option by option; in the order of the newer one."""
    was, now = dict(_facts(before)), dict(_facts(after))
    keys = [*now, *(key for key in was if key not in now)]
    order = {group: place for place, group in enumerate(dict.fromkeys(group for group, _ in keys))}
    keys.sort(key=lambda key: order[key[0]])
    return tuple(Fact(group, what, was.get((group, what)), now.get((group, what))) for group, what in keys)


def _facts(version: Priced) -> Iterator[tuple[tuple[str, str], Value]]:
    file = version.file
    yield ("Term", "Starts"), date.fromisoformat(file["start"])
    yield ("Term", "Days"), str(file["days"])
    for name, horse in file["horses"].items():
        yield ("Term", name), f"of {horse['owner']}"
    if "guideline" in file:
        yield ("Term", "Guideline"), say_phases(file["guideline"]["phases"])
    for part in PRICED:
        if part in file:
            for what, value in _leaves(file[part], (part,)):
                yield ("Prices", what), value
    for said, measures in zip(file["options"], version.comparison.options, strict=True):
        yield from _option(said, measures)


def _leaves(value: Any, path: tuple[str, ...]) -> Iterator[tuple[str, Value]]:
    """Each figure of a part of the file with its place in words."""
    if isinstance(value, Mapping):
        for key, each in value.items():
            yield from _leaves(each, (*path, key))
    elif isinstance(value, list):
        for place, each in enumerate(value, start=1):
            mark = str(each.get("from") or each.get("name") or each.get("to") or "beyond") if each else str(place)
            yield from _leaves(
                {key: inner for key, inner in each.items() if key not in ("from", "name")}, (*path, mark)
            )
    elif value is not None and value is not False:
        yield _place(path), Decimal(str(value)) if path[-1] in MONEY or path[0] == "budget" else str(value)


def _place(path: tuple[str, ...]) -> str:
    words = " ".join(filter(None, (NAMES.get(part, part.replace("_", " ")) for part in path)))
    return words[:1].upper() + words[1:]


def _option(said: File, measures: OptionMeasures) -> Iterator[tuple[tuple[str, str], Value]]:
    group = measures.name
    for rhythm, horses in _rhythms(said["horses"]).items():
        what = "Rhythm" if len(horses) == len(said["horses"]) else f"Rhythm of {', '.join(horses)}"
        yield (group, what), rhythm
    discount = said.get("discount")
    if discount:
        part = f"{discount['percent']} %" if "percent" in discount else discount["amount"]
        yield (group, "Discount"), f"{part}, {discount['reason']}"
    for owner, names in said.get("packages", {}).items():
        yield (group, f"Packages of {owner}"), ", ".join(names)
    yield (group, "Visits"), str(measures.visits)
    if measures.coverage is not None:
        yield (group, "Guideline covered"), f"{measures.coverage.percent} %"
    yield (group, "Total"), measures.total
    if len(measures.owners) > 1:
        for owner in measures.owners:
            yield (group, f"{owner.name} at most"), owner.at_most


def _rhythms(horses: Mapping[str, File]) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for name, plan in horses.items():
        found.setdefault(_say_plan(plan), []).append(name)
    return found


def _say_plan(plan: File) -> str:
    words = say_phases(plan.get("phases", []))
    if plan["by"] == "hire":
        words = f"hire{' with ' + plan['with'] if plan.get('with') else ''}: {words}"
        if plan.get("follow_ups"):
            words += f"; {plan['follow_ups']} follow-ups"
    if plan.get("monthly"):
        words += f"; by {plan['monthly']}"
    if plan.get("shift"):
        words += f"; {plan['shift']} days later"
    if plan.get("days_off") and plan.get("on_day_off", "keep") != "keep":
        words += f"; {say_days_off(plan['days_off'], plan['on_day_off'])}"
    return words


def say_phases(phases: Sequence[File]) -> str:
    """Such as "12 days: a full body every 3 days; 16 days: a full body every 7 days"."""
    return "; ".join(say_phase(Phase(**phase)) for phase in phases)
