"""The sheet of a visit as its entries fill it, before it is done and after."""

from collections.abc import Iterable, Mapping
from typing import Any

from backoffice.refusal import Refused
from clients.barnside.folding import SHEET_KINDS, Entry, Sheet, fold
from clients.barnside.models import BarnEvent
from clients.kit.models import Applicator
from clients.visits.actions import AreaDone, amend_session, areas_of
from clients.visits.models import Visit

BLANK = (None, "")


def sheet_of(visit: Visit, phone: int | None = None) -> Sheet:
    """What the entries taken so far say, of all devices or of one."""
    rows = BarnEvent.objects.filter(visit=visit, kind__in=SHEET_KINDS, is_applied=True)
    if phone is not None:
        rows = rows.filter(phone=phone)
    return fold(Entry(str(row.pk), row.happened_at, row.phone_id, row.kind, row.values) for row in rows)


def areas_done(rows: Iterable[Mapping[str, Any]]) -> tuple[AreaDone, ...]:
    rows = list(rows)
    applicators = Applicator.objects.in_bulk([row["applicator"] for row in rows if row["applicator"]])
    return tuple(
        AreaDone(row["area"], row["minutes"], applicators.get(row["applicator"]), row["setting"], row["reaction"])
        for row in rows
    )


def told_clashes(sheet: Sheet) -> str:
    """One sentence for each place that two devices filled differently; the later one is recorded."""
    return " ".join(
        f"{clash.what}: {_say(clash.was)} on one phone, {_say(clash.now)} on another; the later one is recorded."
        for clash in sheet.clashes
    )


def merge_late(event: BarnEvent, visit: Visit, *, anyway: bool) -> str:
    """Nothing more for an open visit; a completed one gets what the entry adds, where nothing else stands."""
    if visit.status != Visit.Status.COMPLETED:
        return ""
    stands, before = _recorded(visit), _cells(sheet_of(visit, event.phone_id))
    new = _cells(fold([Entry(str(event.pk), event.happened_at, event.phone_id, event.kind, event.values)]))
    gone = [row["area"] for row in event.values.get("areas", ()) if not row["minutes"] and row["area"] in stands]
    differing = [name for name, value in new.items() if stands.get(name) not in (*BLANK, value, before.get(name))]
    differing += [name for name in gone if stands[name] != before.get(name)]
    if differing and not anyway:
        both = [f"{_words(name)}: here {_say(stands[name])}, on the phone {_say(new.get(name))}." for name in differing]
        raise Refused(" ".join(both))
    changed = {name: value for name, value in new.items() if stands.get(name) != value}
    if changed or gone:
        amend_session(
            visit=visit,
            areas=areas_done(value for value in changed.values() if isinstance(value, dict)),
            words={name: value for name, value in changed.items() if not isinstance(value, dict)},
            without=gone,
            at=event.happened_at,
            by=event.person,
        )
    return ""


def _cells(sheet: Sheet) -> dict[str, Any]:
    """Area or field → what is said of it. No area has the name of a field."""
    return {**sheet.areas, **{name: value for name, value in sheet.how.items() if name != "minutes"}}


def _recorded(visit: Visit) -> dict[str, Any]:
    session = visit.sessions.first()
    if session is None:
        return {}
    areas = {
        area.area: {
            "area": area.area,
            "minutes": area.minutes,
            "applicator": area.applicator.pk if area.applicator else None,
            "setting": area.setting,
            "reaction": area.reaction,
        }
        for area in areas_of(session)
    }
    words = {name: getattr(session, name) for name in ("ease_before", "ease_after", "reaction")}
    return {**areas, **words, "note": visit.note}


def _words(name: str) -> str:
    return name.replace("_", " ").capitalize()


def _say(value: Any) -> str:
    if isinstance(value, Mapping):
        setting = f" at {value['setting']}" if value.get("setting") else ""
        return f"{value['minutes']} min{setting}"
    return "nothing" if value in BLANK else f"“{value}”" if isinstance(value, str) else str(value)
