"""Monday's list: what is missing, or lapses, before each round of this week and next, and how to ask for it."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from urllib.parse import urlencode

from django.urls import reverse

from clients.animals.models import Animal
from clients.paperwork.facts import Facts
from clients.paperwork.gathering import gather_each_day
from clients.paperwork.models import Wording
from clients.paperwork.permission import permission_to_work
from clients.paperwork.queries import newest_versions
from clients.visits.models import Visit
from clients.visits.queries import OPEN, work_of_visit

CONSENT = {
    "no_consent",
    "consent_withdrawn",
    "consent_ends",
    "consent_ends_soon",
    "signer_under_age",
    "signer_may_not",
    "owner_changed",
    "sign_again",
    "co_owner_objects",
}
VET = {"vet_no", "vet_minutes", "dose_critical", "law_vet_first"}


@dataclass(slots=True)
class Matter:
    """One thing to ask for one horse, with the visits of the two weeks that it touches, the first one first."""

    animal: Animal
    sentence: str
    result: str
    lapses: bool
    ask: str
    href: str
    visits: list[Visit]


def end_of_next_week(on: date) -> date:
    return on + timedelta(days=13 - on.weekday())


def mondays_list(on: date) -> list[tuple[date, list[Matter]]]:
    """By the day of the first round that it touches; in one number of queries for one visit or thirty."""
    coming = Visit.objects.filter(status__in=OPEN, day__gte=on, day__lte=end_of_next_week(on))
    visits = list(coming.select_related("animal", "service", "plan__guideline_version").order_by("day", "starts", "pk"))
    gathered = gather_each_day([visit.animal for visit in visits], [on, *(visit.day for visit in visits)])
    wordings = {version.wording.kind: version.wording_id for version in newest_versions()}
    found: dict[tuple[int, str, str], Matter] = {}
    for visit in visits:
        work = work_of_visit(visit)
        then = gathered[visit.day].facts_of(visit.animal, work)
        now = {reason.code for reason in permission_to_work(gathered[on].facts_of(visit.animal, work)).reasons}
        for code, sentence, result, who in _said(then):
            ask, href = _way_to_ask(code, who, then, visit, wordings)
            if not href:
                continue
            matter = Matter(visit.animal, sentence, result, code not in now, ask, href, [])
            found.setdefault((visit.animal_id, code, who), matter).visits.append(visit)
    rounds = defaultdict(list)
    for matter in found.values():
        rounds[matter.visits[0].day].append(matter)
    return sorted(rounds.items())


def _said(facts: Facts) -> list[tuple[str, str, str, str]]:
    permission = permission_to_work(facts)
    reasons = [(reason.code, reason.sentence, reason.result.value, reason.who) for reason in permission.reasons]
    return reasons + [(note.code, note.sentence, "", "") for note in permission.notes]


def _way_to_ask(code: str, who: str, facts: Facts, visit: Visit, wordings: dict[str, int]) -> tuple[str, str]:
    """The words of the button and where it leads; nothing where no question would mend it."""
    if code in CONSENT:
        return "Ask to sign", _new_form(wordings, Wording.Kind.CONSENT, animal=visit.animal_id)
    if code == "no_release":
        return "Ask to sign", _new_form(wordings, Wording.Kind.RELEASE, animal=visit.animal_id, barn=visit.barn_id)
    if code == "no_terms":
        payer = next(payer.pk for payer in facts.payers if payer.name == who)
        return "Ask to sign", _new_form(wordings, Wording.Kind.TERMS, signer=payer)
    if code.startswith("ask_"):
        return "Ask the questions", reverse("clients:animal-health", args=[visit.animal_id])
    if code in VET or (code.startswith("stop_") and code != "stop_note"):
        waiting = next((answer.pk for answer in facts.referrals if answer.answer == "waiting"), None)
        if waiting is not None:
            return "See the request", reverse("clients:referral", args=[waiting])
        return "Ask the vet", reverse("clients:referral-new", args=[visit.animal_id])
    return "", ""


def _new_form(wordings: dict[str, int], kind: str, **about: int) -> str:
    wording = {"wording": wordings[kind]} if kind in wordings else {}
    return f"{reverse('clients:form-new')}?{urlencode({**about, **wording})}"
