"""Permission to work: ready, ask or hold, with every reason.

It says what is recorded and whom to ask; it never judges a horse's health. Nothing else in the house decides this.
"""

from collections.abc import Callable, Iterator
from datetime import timedelta

from clients.paperwork import own_rules, paper_rules, vet_rules
from clients.paperwork.facts import MEDICINE, Facts, State
from clients.paperwork.paper_rules import consent_until
from clients.paperwork.reasons import Note, Permission, Reason, Result, day_words, hold
from clients.paperwork.vet_rules import covering

__all__ = ["Note", "Permission", "Reason", "Result", "permission_to_work"]


def permission_to_work(facts: Facts) -> Permission:
    """Decide for one horse, one service and one day: hold over ask over ready, with all reasons, holds first.

    Periods and choices are the practitioner's (`facts.rules`), and the law is as they recorded it. It raises nothing: a
    fact that is absent makes the answer stricter, never looser.
    """
    found = [reason for rule in RULES for reason in rule(facts)]
    found.sort(key=lambda reason: reason.result != Result.HOLD)
    result = found[0].result if found else Result.READY
    return Permission(result=result, reasons=tuple(found), notes=tuple(_notes(facts)))


def _machine(facts: Facts) -> Iterator[Reason]:
    machine = facts.machine
    if machine is None:
        return
    if machine.inspection_due is not None and machine.inspection_due < facts.on:
        due = day_words(machine.inspection_due)
        yield hold(
            "inspection_overdue",
            f"The inspection of {machine.name} was due on {due}.",
            "The inspection, done and dated.",
            "The practitioner",
        )
    if machine.is_on_hire:
        yield hold(
            "on_hire", f"{machine.name} is out on hire that day.", "Another machine or another day.", "The practitioner"
        )


def _died(facts: Facts) -> Iterator[Reason]:
    if facts.died_on is not None:
        yield hold("died", f"{facts.animal} died on {day_words(facts.died_on)}.", "Nothing.", "Nobody")


RULES: tuple[Callable[[Facts], Iterator[Reason]], ...] = (
    _died,
    vet_rules.stop_note,
    vet_rules.look_over,
    vet_rules.stop_and_ask,
    vet_rules.vet_said_no,
    vet_rules.vet_minutes,
    vet_rules.vet_places,
    vet_rules.vet_first,
    vet_rules.dose_critical,
    vet_rules.law_of_the_place,
    paper_rules.consent,
    _machine,
    own_rules.ended,
    vet_rules.not_asked,
    paper_rules.release,
    paper_rules.terms,
    paper_rules.ordered,
)


def _notes(facts: Facts) -> Iterator[Note]:
    for area in facts.cautions:
        yield Note("caution", f"Take care: {area}.")
    answer = covering(facts)
    if answer is not None and answer.conditions:
        yield Note("vet_conditions", f"{answer.vet} says: {answer.conditions}")
    if answer is not None and answer.places:
        yield Note("vet_places", f"{answer.vet} allows these places only: {', '.join(answer.places)}.")
    medicine = facts.answer(MEDICINE)
    if medicine is not None and medicine.state == State.YES:
        yield Note(
            "medicine",
            f"A medicine is given, as recorded on {day_words(medicine.asked_on)}: ask the vet about every medicine.",
        )
    ends = consent_until(facts)
    if ends is not None and ends - facts.on <= timedelta(days=facts.rules.consent_notice_days):
        yield Note("consent_ends_soon", f"The consent ends on {day_words(ends)}.")
    yield from own_rules.ends_soon(facts)
    if facts.isolated_at_barn:
        names = ", ".join(facts.isolated_at_barn)
        yield Note(
            "isolation", f"Isolation at {facts.barn or 'the barn'} ({names}): last of the day, with the cleaning list."
        )
