"""The history of a horse as plain values: what was done, seen, asked, answered, signed and decided.

No price, and no person around the horse by name: the names of its owners, payers, handlers and signers become roles,
in free notes too. The vet who answered and who did the work are named.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any

from clients.animals.models import Animal
from clients.people.models import Person
from clients.records.queries import (
    decisions_told,
    earlier_told,
    forms_told,
    incidents_told,
    referrals_told,
    stop_notes_told,
    visits_told,
)
from clients.records.telling import (
    Told,
    people_in,
    tell_caution,
    tell_decision,
    tell_earlier,
    tell_form,
    tell_health,
    tell_horse,
    tell_incident,
    tell_measure,
    tell_referral,
    tell_stop_note,
    tell_visit,
    without_names,
)


def history_of(animal: Animal, *, since: date | None, on: date) -> Told:
    """Everything from `since` (or ever) to that day; day by day, the oldest first."""

    def after(day: date | None) -> bool:
        return since is None or (day is not None and day >= since)

    facts, cautions = animal.health_facts.order_by("asked_on", "pk"), animal.cautions.order_by("said_on", "pk")
    decisions = [row for row in decisions_told(animal) if row.facts and after(row.for_day)]
    told: Told = {
        "horse": tell_horse(animal),
        "since": since,
        "as_of": on,
        "health": [tell_health(row) for row in facts if after(row.asked_on)],
        "cautions": [tell_caution(row) for row in cautions if after(row.said_on)],
        "measures": [tell_measure(row) for row in animal.measures.all() if after(row.taken_on)],
        "vet": [tell_referral(row) for row in referrals_told(animal) if after(row.asked_on)],
        "stop_notes": [tell_stop_note(row) for row in stop_notes_told(animal) if after(row.opened_at.date())],
        "incidents": [tell_incident(row) for row in incidents_told(animal) if after(row.happened_at.date())],
        "visits": [tell_visit(row) for row in visits_told(animal) if row.day <= on and after(row.day)],
        "earlier": [tell_earlier(row) for row in earlier_told(animal) if row.day <= on and after(row.day)],
        "forms": [tell_form(row) for row in forms_told(animal) if after(row.valid_from)],
        "decisions": [tell_decision(row) for row in decisions],
    }
    names = {**people_in([row.facts for row in decisions]), **_people_around(animal)}
    return dict(without_names(told, names))


def _people_around(animal: Animal) -> Mapping[str, str]:
    """Name → the role that stands for it; an owner before anything else."""
    rows = Person.objects.all()
    return {
        **dict.fromkeys(rows.filter(forms__animal=animal).values_list("name", flat=True), "who signed"),
        **dict.fromkeys(rows.filter(roles__animal=animal).values_list("name", flat=True), "who acts for the owner"),
        **dict.fromkeys(rows.filter(wards__ownerships__animal=animal).values_list("name", flat=True), "the guardian"),
        **dict.fromkeys(rows.filter(ownerships__animal=animal).values_list("name", flat=True), "an owner"),
    }


def index_of(told: Mapping[str, Any], *, business: str) -> str:
    """The plain-language list of what the file holds."""
    counts = [
        ("visits", "visits, each with its sessions"),
        ("earlier", "sessions of before these records"),
        ("health", "answers to health questions"),
        ("cautions", "places to take care with"),
        ("measures", "measures, each on its named scale"),
        ("vet", "requests to a vet, with the answers"),
        ("stop_notes", "stop notes: work was stopped for the vet"),
        ("incidents", "incident notes, with what was added later"),
        ("forms", "signed forms, without who signed"),
        ("decisions", "decisions on permission to work"),
    ]
    since = f" from {told['since']:%Y-%m-%d}" if told["since"] else ""
    lines = [
        f"History of {told['horse']['name']}{since}, as of {told['as_of']:%Y-%m-%d}",
        f"Written by {business}.",
        "",
        "history.pdf    to read; sealed, so that a later change shows",
        "history.json   the same, for a program to read",
        "",
        "It holds:",
        *(f"  {len(told[name])} {words}" for name, words in counts),
        "",
        "It holds no price. People around the horse are named by their role.",
        "It judges no illness and is no veterinary record.",
        "",
    ]
    return "\n".join(lines)
