"""The rules that defer to the vet and to the law of the place.

Sentences follow one pattern: what is recorded; that this software does not judge illness; wait or do not start, and
ask the horse's vet; who decided and where it is written.
"""

from collections.abc import Iterator

from clients.paperwork.facts import DOSE_CRITICAL, STANDING, STOP_AND_ASK, Facts, Look, State, VetAnswer
from clients.paperwork.reasons import Reason, ask, day_words, hold

NO_JUDGE = "This software does not judge illness."
DO_NOT_START = "Do not start, and ask the horse's vet."
LAW_DIFFERS = "Rules differ by place and change."
CHECK_LAW = "Check with your licensing board, insurer or lawyer before relying on it."


def covering(facts: Facts) -> VetAnswer | None:
    """The vet's written yes that covers this service on this day, unless a later answer was no."""
    latest = _latest_answer(facts)
    if latest is None or latest.answer == "no":
        return None
    good = [answer for answer in _answers(facts) if answer.answer != "no" and answer.is_in_force(facts.on)]
    return good[-1] if good else None


def _answers(facts: Facts) -> list[VetAnswer]:
    """Answers that speak of this kind of service, in the order in which they were given."""
    given = [answer for answer in facts.referrals if answer.answer != "waiting" and answer.names(facts.work.kind)]
    return sorted(given, key=lambda answer: (answer.answered_on or answer.asked_on, answer.pk))


def _latest_answer(facts: Facts) -> VetAnswer | None:
    answers = _answers(facts)
    return answers[-1] if answers else None


def _where_the_vet_stands(facts: Facts) -> str:
    """Who decided and where it is written, as far as it goes."""
    latest = _latest_answer(facts)
    if latest is not None and latest.answer == "no":
        return f"{latest.vet} answered no on {day_words(latest.answered_on or latest.asked_on)}."
    if latest is not None and latest.until is not None and latest.until < facts.on:
        return f"The written yes of {latest.vet} ended on {day_words(latest.until)}."
    if latest is not None and latest.since is not None and latest.since > facts.on:
        return f"The written yes of {latest.vet} begins on {day_words(latest.since)}."
    if any(answer.answer in ("yes", "conditions") for answer in facts.referrals):
        return "The vet's written yes on file names other services."
    waiting = [answer for answer in facts.referrals if answer.answer == "waiting"]
    if waiting:
        return f"{waiting[0].vet} was asked on {day_words(waiting[0].asked_on)} and has not answered."
    return "No written answer of a vet is on file."


def stop_and_ask(facts: Facts) -> Iterator[Reason]:
    covered = covering(facts) is not None and not facts.work.for_hire
    for kind, label in STOP_AND_ASK.items():
        answer = facts.answer(kind)
        if answer is None or answer.state != State.YES or covered:
            continue
        by = f", written down by {answer.recorded_by}" if answer.recorded_by else ""
        tail = "A machine is never hired out for such a horse." if facts.work.for_hire else _where_the_vet_stands(facts)
        yield hold(
            f"stop_{kind}",
            f"{label}: yes, on {day_words(answer.asked_on)}{by}. {NO_JUDGE} {DO_NOT_START} {tail}",
            "A vet's written yes for this horse, this service and this day.",
            "The horse's vet",
        )


def not_asked(facts: Facts) -> Iterator[Reason]:
    for kind, label in STANDING.items():
        if kind == "in_foal" and not facts.may_be_in_foal:
            continue
        answer = facts.answer(kind)
        if answer is None or answer.state == State.NOT_ASKED:
            recorded = f"{label}: not asked"
        elif (facts.on - answer.asked_on).days > facts.rules.reask_days:
            recorded = (
                f"{label}: last asked on {day_words(answer.asked_on)}, more than {facts.rules.reask_days} days before"
            )
        else:
            continue
        yield ask(
            f"ask_{kind}",
            f"{recorded}. {NO_JUDGE} Wait, and ask the owner or the horse's vet. No newer answer is written down.",
            "The question asked again, and the answer written down with its date.",
            "An owner, or the horse's vet",
        )


def dose_critical(facts: Facts) -> Iterator[Reason]:
    answer = facts.answer(DOSE_CRITICAL)
    if answer is None or answer.state != State.YES or covering(facts) is not None:
        return
    make = hold if facts.rules.dose_critical_holds else ask
    yield make(
        "dose_critical",
        f"A dose-critical medicine is given, as recorded on {day_words(answer.asked_on)}. {NO_JUDGE}"
        f" Wait, and ask the horse's vet. {_where_the_vet_stands(facts)}",
        "A vet's written yes for this horse, this service and this day.",
        "The horse's vet",
    )


def vet_said_no(facts: Facts) -> Iterator[Reason]:
    latest = _latest_answer(facts)
    if latest is not None and latest.answer == "no":
        yield hold(
            "vet_no",
            f"The vet's latest answer is no. {NO_JUDGE} {DO_NOT_START} {_where_the_vet_stands(facts)}",
            "A later written yes of the vet.",
            "The horse's vet",
        )


def vet_minutes(facts: Facts) -> Iterator[Reason]:
    answer = covering(facts)
    minutes = facts.work.minutes
    if answer is None or answer.max_minutes is None or minutes is None or minutes <= answer.max_minutes:
        return
    yield hold(
        "vet_minutes",
        f"{answer.vet} allows {answer.max_minutes} minutes and {minutes} are planned. {NO_JUDGE}"
        " Do not start so long a session, or ask the horse's vet."
        f" Written on {day_words(answer.answered_on or answer.asked_on)}.",
        f"A session of at most {answer.max_minutes} minutes, or a new written answer of the vet.",
        "The practitioner, or the horse's vet",
    )


def vet_places(facts: Facts) -> Iterator[Reason]:
    answer = covering(facts)
    if answer is None or not answer.places:
        return
    whole_body = facts.work.kind == "full" and not facts.work.places
    outside = [place for place in facts.work.places if not answer.reaches(place)]
    if not whole_body and not outside:
        return
    planned = "the whole body is planned" if whole_body else f"planned beyond them: {', '.join(outside)}"
    yield hold(
        "vet_places",
        f"{answer.vet} allows these places only: {', '.join(answer.places)}; {planned}. {NO_JUDGE}"
        " Do not start there, or ask the horse's vet."
        f" Written on {day_words(answer.answered_on or answer.asked_on)}.",
        "Work on the places that the vet allows, or a new written answer of the vet.",
        "The practitioner, or the horse's vet",
    )


def vet_first(facts: Facts) -> Iterator[Reason]:
    """A plan for a goal that needs the vet, or by a guideline that asks for the vet."""
    if facts.work.vet_first and covering(facts) is None:
        yield hold(
            "vet_first",
            f"{facts.work.vet_first} is followed only with the vet. {NO_JUDGE} {DO_NOT_START}"
            f" {_where_the_vet_stands(facts)}",
            "A vet's written yes for this horse, this service and this day.",
            "The horse's vet",
        )


def stop_note(facts: Facts) -> Iterator[Reason]:
    for opened in facts.stop_notes:
        yield hold(
            "stop_note",
            f"Work was stopped on {day_words(opened)} and the stop note is open. {NO_JUDGE}"
            " Do not start, and ask the horse's vet. The note is closed by name, with what the vet said.",
            "The stop note closed, with what the vet said.",
            "The practitioner, after the horse's vet",
        )


def look_over(facts: Facts) -> Iterator[Reason]:
    if facts.look == Look.SEEN:
        yield hold(
            "stop_sign",
            f"A stop sign was seen on arrival. {NO_JUDGE} {DO_NOT_START} It is written on today's visit.",
            "Another day, after the horse's vet was asked.",
            "The horse's vet",
        )
    elif facts.look == Look.MISSING:
        yield ask(
            "no_look",
            f"Today's look-over is not written down. {NO_JUDGE} Wait, and look the horse over first."
            " What held on an earlier day is never carried over.",
            "The look-over on arrival, written down.",
            "Whoever is at the barn",
        )


def law_of_the_place(facts: Facts) -> Iterator[Reason]:
    law = facts.law
    what = "work with a machine" if facts.work.uses_machine else "work by hand"
    where = law.place or "this place"
    if law.recorded_on is None:
        recorded = f"You recorded nothing about {what} in {where}."
    else:
        words = {"free": "free", "vet_first": "vet first", "not_allowed": "not allowed"}.get(law.rule, "unknown")
        recorded = (
            f"You recorded “{words}” for {what} in {where} on {day_words(law.recorded_on)} (source: {law.source})."
        )
    sentence = f"{LAW_DIFFERS} {recorded} {CHECK_LAW}"
    who = "The practitioner"
    if law.rule == "not_allowed":
        yield hold("law_not_allowed", sentence, "Another service, or a newer record of the law with its source.", who)
    elif law.rule == "vet_first" and covering(facts) is None:
        tail = _where_the_vet_stands(facts)
        yield hold("law_vet_first", f"{sentence} {tail}", "A vet's written yes for this day.", "The horse's vet")
    elif law.rule not in ("free", "vet_first"):
        yield ask("law_unknown", sentence, "The law of the place written down, with its source and date.", who)
