"""The stored facts of a decision, told in words years later; a record of an older shape is told as far as it goes."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from backoffice.business.models import Business
from clients.paperwork.facts import DOSE_CRITICAL, KINDS_OF_WORK, MEDICINE, STANDING, STOP_AND_ASK
from clients.paperwork.reasons import day_words

QUESTIONS = {**STOP_AND_ASK, DOSE_CRITICAL: STANDING[DOSE_CRITICAL], MEDICINE: "Other medicine"}
ANSWERS = {"not_asked": "not asked", "none": "none", "yes": "yes"}
VET_ANSWERS = {"waiting": "not answered", "yes": "yes", "conditions": "yes, with conditions", "no": "no"}
LAWS = {"unknown": "unknown", "free": "free", "vet_first": "vet first", "not_allowed": "not allowed"}


def facts_in_words(record: Mapping[str, Any]) -> list[tuple[str, list[str]]]:
    """(What was looked at, its lines) for a record made by `as_record`; nothing on file is said as such."""
    return [
        ("Work", _work(record.get("work") or {})),
        ("Owners", [owner["name"] for owner in record.get("owners", ())] or ["None recorded"]),
        ("Health, as told", _health(record.get("health", ())) or ["Nothing asked"]),
        ("Consents", [_paper(paper) for paper in record.get("consents", ())] or ["None"]),
        ("Releases", [_paper(paper) for paper in record.get("releases", ())] or ["None"]),
        ("Vet", [_vet(answer) for answer in record.get("referrals", ())] or ["Not asked"]),
        ("Stop notes", [_day(day) for day in record.get("stop_notes", ())] or ["None open"]),
        ("Law", [_law(record.get("law") or {})]),
        ("Your rules then", _rules(record.get("rules") or {})),
        (
            "Your own papers",
            [_own_paper(paper) for paper in record.get("own_papers", ())] or ["None recorded for this"],
        ),
    ]


def _day(text: str | None) -> str:
    return day_words(date.fromisoformat(text)) if text else "no date"


def _work(work: Mapping[str, Any]) -> list[str]:
    name = work.get("name") or KINDS_OF_WORK.get(work.get("kind", ""), "Not recorded")
    minutes = f", {work['minutes']} min" if work.get("minutes") else ""
    done = f"{name}{minutes}, {'with a machine' if work.get('uses_machine') else 'by hand'}"
    places = [f"Places: {', '.join(work['places'])}"] if work.get("places") else []
    vet_first = [f"Only with the vet: {work['vet_first']}"] if work.get("vet_first") else []
    return [done, *places, *vet_first]


def _health(answers: Sequence[Mapping[str, Any]]) -> list[str]:
    return [
        f"{QUESTIONS.get(answer['kind'], answer['kind'])}: {ANSWERS[answer['state']]}, {_day(answer['asked_on'])}"
        for answer in answers
    ]


def _paper(paper: Mapping[str, Any]) -> str:
    taken_back = f", withdrawn {_day(paper['withdrawn_on'])}" if paper.get("withdrawn_on") else ""
    return f"{paper['signer_name']}, {_day(paper['since'])} to {_day(paper['until'])}{taken_back}"


def _vet(answer: Mapping[str, Any]) -> str:
    until = f", until {_day(answer['until'])}" if answer.get("until") else ""
    places = f", only {', '.join(answer['places'])}" if answer.get("places") else ""
    return f"{answer['vet']}: {VET_ANSWERS.get(answer['answer'], answer['answer'])}{until}{places}"


def _law(law: Mapping[str, Any]) -> str:
    source = f" ({law['source']}, {_day(law.get('recorded_on'))})" if law.get("source") else ""
    return f"{law.get('place') or 'No place'}: {LAWS.get(law.get('rule', ''), 'unknown')}{source}"


def _rules(rules: Mapping[str, Any]) -> list[str]:
    if not rules:
        return ["Not recorded"]
    told = [
        f"Health asked again after {rules['reask_days']} days",
        f"Note {rules['consent_notice_days']} days before a consent ends",
        "A dose-critical medicine holds" if rules["dose_critical_holds"] else "A dose-critical medicine asks",
    ]
    if "who_signs" in rules:
        told.append(f"Who signs: {Business.WhoSigns(rules['who_signs']).label}")
    if "own_paper_notice_days" in rules:
        told.append(f"Note {rules['own_paper_notice_days']} days before a paper of your own ends")
    return told


def _own_paper(paper: Mapping[str, Any]) -> str:
    number = f", no. {paper['number']}" if paper["number"] else ""
    return f"{paper['name']}{number}: {_day(paper['since'])} to {_day(paper['until'])}"
