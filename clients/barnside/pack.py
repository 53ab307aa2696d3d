"""The day as it is taken along: everything that the sheet in the barn needs, as plain values for JSON."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from django.template.loader import render_to_string

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.ui.words import clock
from backoffice.ui.words import day as day_words
from clients.animals.areas import FULL_BODY, USUAL_MINUTES
from clients.animals.models import Caution
from clients.animals.queries import cautions_on
from clients.animals.scales import ALL, Scale
from clients.barnside.models import HandMoney, Phone
from clients.barnside.people import people_around_each
from clients.kit.queries import applicators_in_use
from clients.paperwork.models import Form
from clients.paperwork.permission import Permission
from clients.paperwork.signers import capacities_of, name_to_type, text_of
from clients.paperwork.signing import digest_of
from clients.people.models import Barn
from clients.plans.queries import offered_services
from clients.rounds.models import DayRound
from clients.rounds.queries import grouped, map_of, permissions_of, round_of
from clients.visits.hours import say_light
from clients.visits.models import Session, StopList, Visit
from clients.visits.queries import coming_each, last_sessions, next_day_by_cadence, visits_on
from clients.visits.stop_lists import LISTS, noted_lists

VERSION = 3
KEPT_FOR = timedelta(days=3)


def pack_of(days: Sequence[date], phone: Phone, business: Business, at: datetime) -> dict[str, Any]:
    """Each day's stops in order with all that is needed there. What one may not see at the desk is not in it."""
    person = phone.person
    return {
        "version": VERSION,
        "made": int(at.timestamp() * 1000),
        "ends": int((at + KEPT_FOR).timestamp() * 1000),
        "person": {"pk": person.pk, "name": str(person)},
        "phone": phone.pk,
        "slips": HandMoney.objects.filter(event__phone=phone).count(),
        "may": {"override": person.may(Power.OVERRIDE_ASK), "money": person.may(Power.CHANGE_MONEY)},
        "business": {
            "name": business.name,
            "currency": business.currency,
            "inches": business.words == Business.Words.US,
            "first_session": business.first_session_words.splitlines(),
            "after_care": business.after_care_words.splitlines(),
        },
        "body": [[area.name, area.group, area.is_offered] for area in FULL_BODY],
        "minutes": USUAL_MINUTES,
        "applicators": [[each.pk, str(each)] for each in applicators_in_use()],
        "services": [[each.pk, each.name] for each in offered_services()],
        "lists": {kind.value: list(lines.items()) for kind, lines in LISTS.items()},
        "scales": [_scale(each) for each in ALL],
        "causes": [[value, str(words)] for value, words in Visit.Cause.choices],
        "days": [_day(day, person, business) for day in days],
    }


def _scale(scale: Scale) -> dict[str, Any]:
    return {
        "name": scale.name,
        "title": scale.title,
        "unit": scale.unit,
        "low": float(scale.low),
        "high": float(scale.high),
        "step": float(scale.step),
        "source": scale.source,
        "whose": scale.whose,
    }


def _day(day: date, person: User, business: Business) -> dict[str, Any]:
    found = round_of(day, person)
    visits = list(visits_on(day, person).select_related("animal__vet_practice").prefetch_related("barn__windows"))
    set_up = noted_lists(StopList.Kind.SET_UP, day, person)
    return {
        "day": day.isoformat(),
        "words": day_words(day),
        "map": _map(found, business),
        "stops": [_stop(stop, set_up) for stop in _stops(found, visits, day, business)],
        "visits": _visits(visits, day, person, business),
    }


def _map(found: DayRound | None, business: Business) -> str:
    drawing = map_of(found, business) if found else None
    return render_to_string("clients/rounds/_map.html", {"drawing": drawing}) if drawing else ""


def _stops(
    found: DayRound | None, visits: Sequence[Visit], day: date, business: Business
) -> list[tuple[Barn, str, time | None, list[Visit], str]]:
    """(barn, isolation, start, its visits, daylight in words) in the order of the round, and what it does not hold."""
    left = {visit.pk: visit for visit in visits}
    stops: list[tuple[Barn, str, time | None, list[Visit]]] = []
    for stop in found.stops.all() if found else ():
        there = [left.pop(visit.pk) for visit in stop.visits.all() if visit.pk in left]
        if there:
            stops.append((stop.barn, stop.isolation, stop.starts, there))
    for group in sorted(grouped(left.values(), day), key=lambda each: each.visits[0].starts or time.max):
        stops.append((group.barn, group.isolation, group.visits[0].starts, list(group.visits)))
    return [(*stop, say_light(stop[0], day, business.zone)) for stop in stops]


def _stop(stop: tuple[Barn, str, time | None, list[Visit], str], set_up: Mapping[int, StopList]) -> dict[str, Any]:
    barn, isolation, starts, visits, light = stop
    noted = set_up.get(barn.pk)
    return {
        "key": f"{barn.pk}-{visits[0].part}-{isolation}",
        "barn": barn.name,
        "address": barn.address,
        "place": f"{barn.lat:.5f}, {barn.lon:.5f}" if barn.lat is not None and barn.lon is not None else "",
        "note": barn.note,
        "power": barn.power,
        "signal": barn.signal,
        "phone": barn.phone,
        "light": light,
        "starts": clock(starts),
        "isolation": isolation != "clean",
        "set_up": noted.done if noted else None,
        "visits": [visit.pk for visit in visits],
    }


def _visits(visits: Sequence[Visit], day: date, person: User, business: Business) -> dict[str, dict[str, Any]]:
    animals = [visit.animal for visit in visits]
    permissions, cautions = permissions_of(visits, day), cautions_on(animals, day)
    people, last = people_around_each(visits), last_sessions([animal.pk for animal in animals], before=day)
    forms, ahead = _forms(animals, day, business), coming_each(animals, after=day)
    return {
        str(visit.pk): {
            **_about(visit),
            "next": None if visit.animal_id in ahead else _next(visit),
            "permission": _permission(permissions[visit.pk]),
            "cautions": [_caution(each) for each in cautions[visit.animal_id]],
            "people": [[each.pk, each.name, words, each.phone] for each, words in people[visit.animal_id]],
            "last": _last(last.get(visit.animal_id)),
            "forms": forms.get(visit.animal_id, []),
            "ahead": day_words(ahead[visit.animal_id].day) if visit.animal_id in ahead else "",
        }
        for visit in visits
    }


def _about(visit: Visit) -> dict[str, Any]:
    animal, vet = visit.animal, visit.animal.vet_practice
    sex = animal.get_sex_display() if animal.sex != animal.Sex.UNKNOWN else ""
    return {
        "pk": visit.pk,
        "horse": animal.name,
        "looks": ", ".join(filter(None, [animal.color, animal.breed, sex])),
        "handling": animal.handling,
        "starts": clock(visit.starts),
        "minutes": visit.minutes,
        "service": visit.service.name,
        "service_pk": visit.service_id,
        "full": visit.service.kind == "full",
        "machine": visit.service.uses_machine,
        "machine_name": str(visit.machine or ""),
        "status": visit.status,
        "plan": str(visit.plan or ""),
        "vet": [vet.name, vet.phone] if vet else None,
        "photos": animal.shares_photos,
    }


def _next(visit: Visit) -> dict[str, str] | None:
    due = next_day_by_cadence(visit)
    return {"day": due.isoformat(), "words": day_words(due)} if due else None


def _permission(permission: Permission) -> dict[str, Any]:
    return {
        "result": permission.result.value,
        "label": permission.result.label,
        "reasons": [[reason.result.value, reason.sentence, reason.clears] for reason in permission.reasons],
        "notes": [note.sentence for note in permission.notes if note.code != "caution"],
    }


def _caution(caution: Caution) -> dict[str, str]:
    said = f"Said by {caution.said_by}, {day_words(caution.said_on)}."
    note = f"{caution.note.rstrip('.')}." if caution.note else ""
    return {"area": caution.area, "words": " ".join(filter(None, [note, said]))}


def _last(session: Session | None) -> dict[str, Any] | None:
    if session is None:
        return None
    return {
        "words": f"{day_words(session.visit.day)}: {session.service}, {session.minutes} min",
        "ease": session.ease_after,
        "reaction": session.reaction,
        "areas": [
            {"area": each.area, "minutes": each.minutes, "applicator": each.applicator_id, "setting": each.setting}
            for each in session.areas.all()
        ],
    }


def _forms(animals: Sequence[Any], day: date, business: Business) -> dict[int, list[dict[str, Any]]]:
    """Horse → the forms about it that wait to be signed, with the text to read and who may sign it as what."""
    rows = Form.objects.filter(animal__in=animals, state=Form.State.TO_SIGN)
    found: dict[int, list[dict[str, Any]]] = {}
    for form in rows.select_related("wording_version__wording", "signer__guardian", "animal__barn", "barn", "agent"):
        text = text_of(form, on=day, business=business)
        capacities = capacities_of(form, on=day, business=business)
        found.setdefault(form.animal_id or 0, []).append(
            {
                "pk": form.pk,
                "title": form.wording_version.wording.title,
                "signer": form.signer.name,
                "text": text,
                "read": digest_of(text),
                "as": [[each.value, str(each.label), name_to_type(form, each)] for each in capacities],
            }
        )
    return found


def days_along(today: date) -> list[date]:
    """Today, and tomorrow for whoever leaves before there is a signal."""
    return [today, today + timedelta(days=1)]
