"""The invented scenario, read from `fixtures_demo/` and laid on the calendar around the day it is built."""

import csv
import json
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from django.conf import settings

from backoffice.access.models import User
from clients.animals.models import Animal
from clients.kit.models import Applicator, Machine
from clients.paperwork.models import VetReferral
from clients.people.models import Barn, Person, VetPractice
from clients.plans.models import Service

WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
TUESDAY = 1
Row = dict[str, str]


@dataclass(slots=True)
class Made:
    """What has been built, by the ids of the files."""

    users: dict[str, User] = field(default_factory=dict)
    people: dict[str, Person] = field(default_factory=dict)
    barns: dict[str, Barn] = field(default_factory=dict)
    animals: dict[str, Animal] = field(default_factory=dict)
    vets: dict[str, VetPractice] = field(default_factory=dict)
    services: dict[str, Service] = field(default_factory=dict)
    machines: dict[str, Machine] = field(default_factory=dict)
    applicators: list[Applicator] = field(default_factory=list)
    referrals: dict[str, VetReferral] = field(default_factory=dict)
    tokens: dict[str, str] = field(default_factory=dict)

    @property
    def manager(self) -> User:
        return self.users["wren"]


@dataclass(frozen=True)
class Scenario:
    """`at(-3, 9)` is nine o'clock three days ago. The week is turned so that today is the busy day of the files."""

    today: date
    now: datetime
    folder: Path = field(default_factory=lambda: settings.BASE_DIR / "fixtures_demo")

    @cached_property
    def story(self) -> dict[str, Any]:
        return dict(json.loads((self.folder / "scenario.json").read_text(encoding="utf-8")))

    @cached_property
    def barns(self) -> list[Row]:
        return self._rows("barns.csv")

    @cached_property
    def owners(self) -> list[Row]:
        return self._rows("owners.csv")

    @cached_property
    def horses(self) -> list[Row]:
        return self._rows("horses.csv")

    def _rows(self, name: str) -> list[Row]:
        with (self.folder / name).open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))

    @cached_property
    def zone(self) -> ZoneInfo:
        return ZoneInfo("America/Denver")

    def day(self, offset: int) -> date:
        return self.today + timedelta(days=offset)

    def at(self, offset: int, hour: int = 18, minute: int = 0) -> datetime:
        moment = datetime.combine(self.day(offset), time(hour, minute), self.zone)
        return min(moment, self.now) if offset >= 0 else moment

    def weekday(self, code: str) -> int:
        """A weekday of the files, turned with the week: Tuesday is today's."""
        return (WEEKDAYS.index(code) + self.today.weekday() - TUESDAY) % 7

    def weekday_codes(self, codes: str) -> str:
        return ", ".join(WEEKDAYS[self.weekday(code.strip())] for code in codes.split(","))

    def first_on(self, code: str, offset: int) -> int:
        """The offset of the first such weekday on or after `offset`."""
        return offset + (self.weekday(code) - self.day(offset).weekday()) % 7
