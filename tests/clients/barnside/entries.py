"""Entries as a phone makes them."""

from datetime import datetime, timedelta
from itertools import count
from uuid import UUID

from clients.barnside.actions import let_in, receive
from clients.barnside.models import Phone

NUMBERS = count(1)
PHONE_KEY = UUID("5f6d3a52-0d2f-4a6e-9a59-3c2f6f1f0a01")
OTHER_KEY = UUID("5f6d3a52-0d2f-4a6e-9a59-3c2f6f1f0a02")
ALL_WELL = dict.fromkeys(["no_stop_sign", "is_dry", "moves_soundly", "handler_present", "electronics_away"], True)


def new_id() -> str:
    """UUID version 7 with a running number instead of a time."""
    return f"01900000-0000-7000-8000-{next(NUMBERS):012x}"


def entry(kind: str, visit, at: datetime, *, by=None, id: str = "", offset: int = 0, **values) -> dict:
    return {
        "id": id or new_id(),
        "kind": kind,
        "by": (by or visit.practitioner).pk,
        "visit": visit.pk,
        "at": at.timestamp() * 1000,
        "offset": offset,
        "values": values,
    }


def area(name: str, minutes: int = 3, **more) -> dict:
    return {"area": name, "minutes": minutes, "applicator": None, "setting": None, "reaction": "", **more}


def phone_of(person, at: datetime, key: UUID = PHONE_KEY) -> Phone:
    return let_in(key=key, name="A phone", at=at, by=person)


def send(phone: Phone, *entries, at: datetime, drift: timedelta = timedelta(0)):
    return receive(phone=phone, entries=entries, drift=drift, at=at, by=phone.person)


def whole_visit(visit, at: datetime) -> list[dict]:
    return [
        entry("arrival", visit, at, **ALL_WELL),
        entry("areas", visit, at, areas=[area("Withers"), area("Loins", 4, setting=2)]),
        entry("how", visit, at, ease_before=4, ease_after=7, reaction="yawned"),
        entry("done", visit, at),
    ]
