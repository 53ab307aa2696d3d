"""What is held about a horse, each record with how it is emptied: rows that the books stand on stay, without words."""

from collections.abc import Iterator
from functools import partial

from backoffice.documents.models import Document
from backoffice.keeping.rules import Held
from clients.animals.models import Animal
from clients.barnside.models import BarnEvent, HandMoney
from clients.incidents.models import Incident
from clients.paperwork.models import Decision, StopNote, VetReferral
from clients.plans.models import Plan
from clients.records.models import HistoryFile
from clients.records.queries import (
    decisions_told,
    earlier_told,
    incidents_told,
    referrals_told,
    stop_notes_told,
    visits_told,
)
from clients.records.telling import (
    tell_caution,
    tell_decision,
    tell_earlier,
    tell_health,
    tell_horse,
    tell_incident,
    tell_measure,
    tell_referral,
    tell_stop_note,
    tell_visit,
)
from clients.rounds.models import DayRound
from clients.visits.models import CallLater, Session, SessionArea, Visit, VisitPhoto

ERASED_SENTENCE = "Erased by a rule of keeping."
IDENTITY = ("breed", "color", "markings", "microchip", "ueln", "passport_name", "handling", "note")
VISIT_WORDS = ("note", "cancel_reason", "outside_hours_reason", "spot_alone_reason", "call_list_reason")


def held_about_horse(animal: Animal, *, bound: str = "") -> Iterator[Held]:
    """`bound` is why the record stays whatever the years say."""
    visits = list(visits_told(animal))
    if not _is_empty(animal):
        days = [visit.day for visit in visits] + list(animal.health_facts.values_list("asked_on", flat=True))
        empty = partial(_empty_animal, animal)
        last = max(days, default=None)
        yield Held(
            "horse", f"{animal}: identity and handling", last, tell_horse(animal), empty, _kept(animal.photo), bound
        )
    yield from _health(animal, bound)
    yield from _incidents(animal, bound)
    for visit in visits:
        papers = _papers_of(visit)
        if papers or not _is_empty(animal):
            words, empty = f"{animal}: visit of {visit.day:%Y-%m-%d}", partial(_empty_visit, visit)
            yield Held("visit", words, visit.day, tell_visit(visit), empty, papers, bound)
    for work in earlier_told(animal):
        yield Held("visit", f"{animal}: {work}", work.day, tell_earlier(work), work.delete, (), bound)
    for decision in decisions_told(animal):
        if decision.facts:
            words, empty = f"{animal}: permission for {decision.for_day:%Y-%m-%d}", partial(_empty_decision, decision)
            yield Held("visit", words, decision.for_day, tell_decision(decision), empty, (), bound)
    yield from _round_sheets(animal, bound)
    for file in animal.history_files.select_related("document").order_by("pk"):
        if _kept(file.document):
            empty, papers = partial(_leave_tombstone, file), _kept(file.document)
            yield Held("history", str(file), file.made_at.date(), {"for": file.reader}, empty, papers, bound)


def _leave_tombstone(file: HistoryFile) -> None:
    """That it was made, and for whom, stays; it holds no words."""


def erased_horse_name(animal: Animal) -> str:
    return f"Erased horse {animal.pk}"


def _is_empty(animal: Animal) -> bool:
    return animal.name == erased_horse_name(animal)


def _papers_of(visit: Visit) -> tuple[Document, ...]:
    photos = [photo.document for photo in visit.photos.all()]
    return _kept(visit.report, *visit.earlier_reports.all(), *photos)


def _kept(*documents: Document | None) -> tuple[Document, ...]:
    return tuple(document for document in documents if document is not None and document.erased_at is None)


def _health(animal: Animal, bound: str) -> Iterator[Held]:
    for fact in animal.health_facts.order_by("asked_on", "pk"):
        yield Held("health", f"{animal}: {fact}", fact.asked_on, tell_health(fact), fact.delete, (), bound)
    for caution in animal.cautions.order_by("said_on", "pk"):
        counted, told = caution.ended_on or caution.said_on, tell_caution(caution)
        yield Held("health", f"{animal}: take care with {caution.area}", counted, told, caution.delete, (), bound)
    for measure in animal.measures.all():
        words, told = f"{animal}: {measure}", tell_measure(measure)
        yield Held("health", words, measure.taken_on, told, measure.delete, (), bound)
    for note in stop_notes_told(animal):
        if note.seen:
            words, day = f"{animal}: stop note", (note.closed_at or note.opened_at).date()
            yield Held("health", words, day, tell_stop_note(note), partial(_empty_stop_note, note), (), bound)
    for referral in referrals_told(animal):
        if referral.asked:
            counted = referral.until or referral.answered_on or referral.asked_on
            papers = _kept(referral.document, *referral.scans.all())
            words, empty = f"{animal}: the vet's answer", partial(_empty_referral, referral)
            yield Held("health", words, counted, tell_referral(referral), empty, papers, bound)


def _incidents(animal: Animal, bound: str) -> Iterator[Held]:
    for incident in incidents_told(animal):
        if incident.what:
            words, day = f"{animal}: incident note", incident.happened_at.date()
            told, papers = tell_incident(incident), _kept(*incident.papers.all())
            yield Held("incident", words, day, told, partial(_empty_incident, incident), papers, bound)


def _round_sheets(animal: Animal, bound: str) -> Iterator[Held]:
    """A printed day names every stop, so it goes with the last record of its day."""
    rounds = DayRound.objects.filter(stops__visits__animal=animal).distinct().select_related("sheet")
    for planned in rounds.order_by("day", "pk"):
        if _kept(planned.sheet):
            empty = partial(_empty_round, planned)
            yield Held(
                "visit", f"Round sheet of {planned.day:%Y-%m-%d}", planned.day, {}, empty, _kept(planned.sheet), bound
            )


def _empty_animal(animal: Animal) -> None:
    words = dict.fromkeys(IDENTITY, "")
    Animal.objects.filter(pk=animal.pk).update(name=erased_horse_name(animal), vet_practice=None, photo=None, **words)
    Plan.objects.filter(animal=animal).update(spots_alone_reason="")
    CallLater.objects.filter(animal=animal).update(why="")


def _empty_stop_note(note: StopNote) -> None:
    StopNote.objects.filter(pk=note.pk).update(seen="", vet_said="")


def _empty_incident(incident: Incident) -> None:
    words = dict.fromkeys(("what", "present", "done", "vet_said"), "")
    Incident.objects.filter(pk=incident.pk).update(**words)
    incident.additions.update(text="")


def _empty_referral(referral: VetReferral) -> None:
    words = dict.fromkeys(("asked", "vet_name", "registration_number", "conditions", "confirmed_note"), "")
    VetReferral.objects.filter(pk=referral.pk).update(**words, examined_on=None)
    referral.calls.update(vet_name="", said="")


def _empty_visit(visit: Visit) -> None:
    """The visit and its minutes stay: charges and the machine's hours stand on them."""
    Visit.objects.filter(pk=visit.pk).update(**dict.fromkeys(VISIT_WORDS, ""))
    Session.objects.filter(visit=visit).update(reaction="", note="", ease_before=None, ease_after=None)
    SessionArea.objects.filter(session__visit=visit).update(reaction="")
    VisitPhoto.objects.filter(visit=visit).update(words="")
    BarnEvent.objects.filter(visit=visit).update(values={}, why="", settled_reason="")
    HandMoney.objects.filter(visit=visit).update(words="")


def _empty_decision(decision: Decision) -> None:
    """The result and the codes of its reasons stay; the facts and the sentences, which name people, go."""
    reasons = [
        {"result": reason.get("result"), "code": reason.get("code"), "sentence": ERASED_SENTENCE}
        for reason in decision.reasons
    ]
    Decision.objects.filter(pk=decision.pk).update(facts={}, reasons=reasons, override_reason="")


def _empty_round(planned: DayRound) -> None:
    DayRound.objects.filter(pk=planned.pk).update(unplaced=[], notices=[])
