"""Records as plain values to hand over. No price, and nobody but the vet who answered and who did the work is named."""

import re
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from clients.animals.models import Animal, Caution, HealthFact, Measure
from clients.incidents.models import Incident
from clients.paperwork.facts import KINDS_OF_WORK
from clients.paperwork.models import Decision, Form, StopNote, VetReferral
from clients.visits.models import EarlierWork, Session, Visit

Told = dict[str, Any]


def tell_horse(animal: Animal) -> Told:
    return {
        "name": animal.name,
        "sex": animal.get_sex_display(),
        "birth_year": animal.birth_year,
        "breed": animal.breed,
        "color": animal.color,
        "markings": animal.markings,
        "microchip": animal.microchip,
        "ueln": animal.ueln,
        "passport_name": animal.passport_name,
        "handling": animal.handling,
    }


def tell_health(fact: HealthFact) -> Told:
    told: Told = {
        "question": fact.get_kind_display(),
        "answer": fact.get_state_display(),
        "asked_on": fact.asked_on,
        "note": fact.note,
    }
    if fact.covered_on is not None:
        told |= {"covered_on": fact.covered_on, "due_about": fact.due_about}
    return told


def tell_caution(caution: Caution) -> Told:
    names = ("area", "note", "said_by", "said_on", "ended_on")
    return {name: getattr(caution, name) for name in names}


def tell_measure(measure: Measure) -> Told:
    told: Told = {
        "on": measure.taken_on,
        "scale": measure.scale.title,
        "source": measure.scale.source,
        "value": measure.value,
        "unit": measure.scale.unit,
        "words": measure.words,
        "from": measure.given_by,
        "note": measure.note,
    }
    if measure.girth_cm is not None:
        told |= {"girth_cm": measure.girth_cm, "length_cm": measure.length_cm}
    return told


def tell_stop_note(note: StopNote) -> Told:
    return {
        "seen": note.seen,
        "opened_at": note.opened_at,
        "opened_by": str(note.opened_by),
        "vet_said": note.vet_said,
        "closed_at": note.closed_at,
        "closed_by": str(note.closed_by or ""),
    }


def tell_referral(referral: VetReferral) -> Told:
    return {
        "asked": referral.asked,
        "asked_on": referral.asked_on,
        "answer": referral.get_answer_display(),
        "answered_on": referral.answered_on,
        "practice": referral.practice.name,
        "vet": referral.vet_name,
        "letter_confirmed": " ".join(filter(None, (referral.get_confirmed_display(), referral.confirmed_note))),
        "registration_number": referral.registration_number,
        "examined_on": referral.examined_on,
        "services": [KINDS_OF_WORK.get(kind, kind) for kind in referral.service_kinds],
        "places": referral.places,
        "conditions": referral.conditions,
        "minutes_at_most": referral.max_minutes,
        "since": referral.since,
        "until": referral.until,
        "calls": [{"at": call.heard_at, "vet": call.vet_name, "said": call.said} for call in referral.calls.all()],
    }


def tell_incident(incident: Incident) -> Told:
    return {
        "happened_at": incident.happened_at,
        "place": str(incident.barn or ""),
        "what": incident.what,
        "who_was_there": incident.present,
        "done": incident.done,
        "vet_said": incident.vet_said,
        "hurt": incident.hurt,
        "written_at": incident.written_at,
        "written_by": str(incident.written_by),
        "added": [
            {"at": addition.written_at, "by": str(addition.written_by), "text": addition.text}
            for addition in incident.additions.all()
        ],
    }


def tell_visit(visit: Visit) -> Told:
    return {
        "day": visit.day,
        "service": str(visit.service),
        "barn": str(visit.barn),
        "by": str(visit.practitioner),
        "status": visit.get_status_display(),
        "cause": visit.get_cause_display() if visit.cause else "",
        "note": visit.note,
        "sessions": [_tell_session(session) for session in visit.sessions.all()],
    }


def tell_earlier(work: EarlierWork) -> Told:
    return {"day": work.day, "service": str(work.service), "minutes": work.minutes, "note": work.note}


def _tell_session(session: Session) -> Told:
    return {
        "service": str(session.service),
        "minutes": session.minutes,
        "ease_before": session.ease_before,
        "ease_after": session.ease_after,
        "reaction": session.reaction,
        "note": session.note,
        "areas": [
            {
                "area": area.area,
                "minutes": area.minutes,
                "applicator": str(area.applicator or ""),
                "setting": area.setting,
                "reaction": area.reaction,
            }
            for area in session.areas.all()
        ],
    }


def tell_form(form: Form) -> Told:
    """Without its signer's name: what was signed, as what, and for which days."""
    signature = getattr(form, "signature", None)
    return {
        "form": form.wording_version.wording.get_kind_display(),
        "wording_version": form.wording_version.number,
        "signed_as": signature.get_capacity_display() if signature else "",
        "since": form.valid_from,
        "until": form.valid_until,
        "withdrawn_on": form.withdrawn_on,
    }


ABOUT_MONEY = {"over_cap", "no_terms", "spending_unknown", "no_authority"}


def tell_decision(decision: Decision) -> Told:
    """The result and its reasons; those about money stay with us."""
    spoken = [reason for reason in decision.reasons if reason.get("code") not in ABOUT_MONEY]
    return {
        "for_day": decision.for_day,
        "door": decision.get_door_display(),
        "result": decision.get_result_display(),
        "reasons": [reason.get("sentence", "") for reason in spoken],
        "went_on_because": decision.override_reason,
    }


def people_in(records: Iterable[Mapping[str, Any]]) -> dict[str, str]:
    """Name → the role that stands for it, from the stored facts of decisions."""
    named: list[tuple[str, str]] = []
    for facts in records:
        named += [(person["name"], "who pays") for person in facts.get("payers") or ()]
        for papers in ("consents", "authorities", "releases", "terms"):
            named += [(paper["signer_name"], "who signed") for paper in facts.get(papers) or ()]
        if facts.get("ordered_by"):
            named.append((facts["ordered_by"]["name"], "who ordered"))
        named += [(owner["name"], "an owner") for owner in facts.get("owners") or ()]
    return dict(named)


def without_names(told: Any, names: Mapping[str, str]) -> Any:
    """The same values with each name, whatever its case, replaced by the role that stands for it."""
    longest_first = sorted((name for name in names if name), key=len, reverse=True)
    if not longest_first:
        return told
    pattern = re.compile("|".join(re.escape(name) for name in longest_first), re.IGNORECASE)
    roles = {name.casefold(): role for name, role in names.items()}
    return _replaced(told, lambda text: pattern.sub(lambda match: roles[match.group().casefold()], text))


def _replaced(value: Any, change: Callable[[str], str]) -> Any:
    if isinstance(value, str):
        return change(value)
    if isinstance(value, dict):
        return {key: _replaced(part, change) for key, part in value.items()}
    if isinstance(value, list):
        return [_replaced(part, change) for part in value]
    return value
