"""Earned an hour, with the driving counted, by what the work is grouped by; and the visits that a row is made of."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from django.urls import reverse

from billing.money.rounding import round_money
from billing.money.worked_hour import Hours, per_hour, shares
from billing.reports.report import Column, Kind, Report, Row
from billing.reports.work import Work, Worked
from clients.people.models import Person

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
NOBODY = "Charged to nobody yet, or waived"


@dataclass(frozen=True, slots=True)
class Group:
    """`key` finds it again in an address, `order` puts it in its place among the others."""

    key: str
    label: str
    order: tuple[object, ...] = ()
    href: str = ""


@dataclass(slots=True)
class Gathered:
    visits: int = 0
    hours: Hours = field(default_factory=Hours)
    money: Fraction = Fraction(0)
    vehicle: Fraction = Fraction(0)

    def add(self, row: Worked, part: Fraction, money: Fraction) -> None:
        self.visits += 1
        self.hours += row.hours.part(part)
        self.money += money
        self.vehicle += row.vehicle * part


Parted = Iterator[tuple[Group, Fraction, Fraction]]  # the group, what part of the visit's time, what money


def _whole(group_of: Callable[[Worked], Group]) -> Callable[[Worked], Parted]:
    def parted(row: Worked) -> Parted:
        yield group_of(row), Fraction(1), row.money

    return parted


def _by_stop(row: Worked) -> Group:
    visit = row.visit
    words = f"{visit.day:%a} {visit.day:%-d %b %Y}, {visit.barn}"
    key = f"{visit.day:%Y-%m-%d}-{visit.barn_id}-{visit.practitioner_id}-{visit.part}"
    return Group(key, words, (visit.day.toordinal(), visit.part, visit.pk))


def _by_barn(row: Worked) -> Group:
    return Group(str(row.visit.barn_id), row.visit.barn.name, (row.visit.barn.name,))


def _by_kind(row: Worked) -> Group:
    return Group(str(row.visit.service_id), str(row.visit.service), (str(row.visit.service),))


def _by_weekday(row: Worked) -> Group:
    number = row.visit.day.weekday()
    return Group(str(number), WEEKDAYS[number], (number,))


def _by_month(row: Worked) -> Group:
    return Group(f"{row.visit.day:%Y-%m}", f"{row.visit.day:%B %Y}", (f"{row.visit.day:%Y-%m}",))


def _by_practitioner(row: Worked) -> Group:
    return Group(str(row.visit.practitioner_id), str(row.visit.practitioner), (str(row.visit.practitioner),))


def _by_payer(row: Worked) -> Parted:
    """The time of a visit falls on its payers as its money does."""
    parts: list[tuple[Person | None, Fraction]] = list(row.parts.items()) or [(None, Fraction(0))]
    for (payer, money), share in zip(parts, shares([money for _, money in parts]), strict=True):
        yield _group_of_payer(payer), share, money


def _group_of_payer(payer: Person | None) -> Group:
    return Group(str(payer.pk), payer.name, (payer.name,)) if payer else Group("0", NOBODY, ("~",))


WAYS: dict[str, tuple[str, Callable[[Worked], Parted]]] = {
    "barn": ("barn", _whole(_by_barn)),
    "payer": ("payer", _by_payer),
    "kind": ("kind of work", _whole(_by_kind)),
    "weekday": ("weekday", _whole(_by_weekday)),
    "stop": ("stop", _whole(_by_stop)),
    "practitioner": ("practitioner", _whole(_by_practitioner)),
    "month": ("month", _whole(_by_month)),
}
COLUMNS = (
    Column("Visits", Kind.COUNT, is_summed=True),
    Column("Hands-on", Kind.MINUTES, is_summed=True),
    Column("Driving", Kind.MINUTES, is_summed=True),
    Column("Set-up and desk", Kind.MINUTES, is_summed=True),
    Column("Driven", Kind.DISTANCE, is_summed=True),
    Column("Brought", Kind.MONEY, is_summed=True),
    Column("Vehicle", Kind.MONEY, is_summed=True),
    Column("An hour", Kind.MONEY, is_drawn=True),
)


def earned(work: Work, way: str, since: date, until: date, currency: str) -> Report:
    """A row for each group; the last column is (brought − vehicle) / all hours."""
    words, parted = WAYS[way]
    gathered: dict[Group, Gathered] = defaultdict(Gathered)
    everything = Gathered()
    for row in work.rows:
        for group, part, money in parted(row):
            gathered[group].add(row, part, money)
        everything.add(row, Fraction(1), row.money)
    rows = [
        Row((group.label, *_cells(sums, currency)), _made_of(way, group.key, since, until))
        for group, sums in sorted(gathered.items(), key=lambda each: each[0].order)
    ]
    return Report(
        columns=(Column(words.capitalize()), *COLUMNS),
        rows=tuple(rows),
        sums=("In all", *_cells(everything, currency)) if len(rows) > 1 else (),
        notes=_notes(work),
        nothing="No finished visit in this time.",
        target=work.rates.hourly_target if work.rates and work.rates.hourly_target else None,
    )


def visits_of(work: Work, way: str, key: str, currency: str) -> tuple[str, Report]:
    """What a row is made of, with the words of its group: one line a visit, each leading to the visit."""
    parted, rows, label = WAYS[way][1], [], ""
    columns = (Column("Visit"), Column("Barn"), Column("Work"), *COLUMNS[1:])
    for row in work.rows:
        for group, part, money in parted(row):
            if group.key == key:
                sums, label = Gathered(), group.label
                sums.add(row, part, money)
                cells = (str(row.visit), row.visit.barn.name, str(row.visit.service), *_cells(sums, currency)[1:])
                rows.append(Row(cells, row.visit.get_absolute_url()))
    return label, Report(columns, tuple(rows), notes=_notes(work), nothing="No finished visit in this time.")


def _cells(sums: Gathered, currency: str) -> tuple[int | Decimal | Fraction | None, ...]:
    hours = sums.hours
    return (
        sums.visits,
        hours.hands_on,
        hours.driving,
        hours.set_up + hours.admin,
        hours.metres,
        round_money(sums.money, currency),
        round_money(sums.vehicle, currency),
        per_hour(sums.money, sums.vehicle, hours.minutes, currency),
    )


def _made_of(way: str, key: str, since: date, until: date) -> str:
    return f"{reverse('billing:report', args=['earned'])}?since={since}&until={until}&by={way}&of={key}"


def _notes(work: Work) -> tuple[str, ...]:
    notes = [
        "Brought: confirmed charges before tax, and what each session of a package earned. Discounts and deposits of a "
        "whole invoice are not in it.",
        "A day’s driving is shared among its stops in proportion to the drive that each would cause alone; within a "
        "stop, by hands-on minutes.",
    ]
    if work.rates is None:
        notes.append("No cost rates are recorded: the vehicle and the desk time of a visit count as nothing.")
    if work.unplaced:
        notes.append(f"The drive to {work.unplaced} visits is not known: your base or their barn is not on the map.")
    return tuple(notes)
