from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction

from django.db import models
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.refusal import Refused
from clients.animals.models import Animal, Caution, HealthFact, Ownership, Role, Stay
from clients.animals.shares import FINEST, problem_with
from clients.people.models import Barn, Person
from clients.people.names import folded
from clients.people.queries import barns_named

Shares = Sequence[tuple[Person, Fraction]]


def today_of(at: datetime) -> date:
    """The local day of a moment, by the business's own clock."""
    return timezone.localdate(at, the_business().zone)


def say_day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b} {day.year}"


def _locked(animal: Animal) -> Animal:
    return Animal.objects.select_for_update(of=("self",)).select_related("barn").get(pk=animal.pk)


@audit.action
def add_animal(*, animal: Animal, owner: Person, since: date, at: datetime, by: User) -> Animal:
    """Write down a horse and its one owner; shares and other roles can follow."""
    animal.save(force_insert=True)
    audit.record("horse added", animal, at=at, by=by, changes={"barn": animal.barn_id})
    set_owners(animal=animal, shares=[(owner, Fraction(1))], since=since, at=at, by=by)
    return animal


@audit.action
def set_owners(*, animal: Animal, shares: Shares, since: date, at: datetime, by: User) -> list[Ownership]:
    """The owners from that day on. Earlier shares end the day before and stay readable; the same day's are replaced."""
    _refuse_bad_shares(shares)
    animal = _locked(animal)
    latest = animal.ownerships.aggregate(models.Max("since"))["since__max"]
    if latest is not None and since < latest:
        raise Refused(
            f"{animal} already has owners from a later day, {say_day(latest)}. Choose that day or a later one."
        )
    animal.ownerships.filter(since=since).delete()
    _close_before(animal.ownerships.all(), since)
    ownerships = Ownership.objects.bulk_create(
        Ownership(
            animal=animal,
            person=person,
            numerator=share.numerator,
            denominator=share.denominator,
            position=position,
            since=since,
        )
        for position, (person, share) in enumerate(shares)
    )
    changes = {"since": since, "shares": [[person.pk, str(share)] for person, share in shares]}
    audit.record("owners set", animal, at=at, by=by, changes=changes)
    return ownerships


def _refuse_bad_shares(shares: Shares) -> None:
    problem = problem_with([share for _, share in shares])
    if problem:
        raise Refused(problem)
    if len({person.pk for person, _ in shares}) < len(shares):
        raise Refused("One person is named twice: add the two shares together.")
    if any(share.denominator > FINEST for _, share in shares):
        raise Refused("A share may not be finer than one ten-thousandth.")


def _close_before(rows: "models.QuerySet[Ownership] | models.QuerySet[Role]", day: date) -> None:
    rows.filter(models.Q(until__isnull=True) | models.Q(until__gte=day)).update(until=day - timedelta(days=1))


@audit.action
def set_roles(
    *, animal: Animal, holders: Mapping[Role.Kind, Person | None], since: date, at: datetime, by: User
) -> dict[str, Role]:
    """Who handles, pays and orders from that day on; None gives a role back to the owner. Writes only differences."""
    animal = _locked(animal)
    changes: dict[str, int | None] = {}
    for kind, person in holders.items():
        latest = animal.roles.filter(kind=kind).order_by("since", "pk").last()
        current = latest.person if latest and latest.until is None else None
        if current == person:
            continue
        if latest and since < latest.since:
            raise Refused(f"{latest} holds only from {say_day(latest.since)}. Choose that day or a later one.")
        animal.roles.filter(kind=kind, since=since).delete()
        _close_before(animal.roles.filter(kind=kind), since)
        if person is not None:
            Role.objects.create(animal=animal, person=person, kind=kind, since=since)
        changes[str(kind)] = person.pk if person else None
    if changes:
        audit.record("roles set", animal, at=at, by=by, changes={"since": since, **changes})
    return {role.kind: role for role in animal.roles.filter(until__isnull=True).select_related("person")}


@audit.action
def move_to_barn(*, animal: Animal, barn: Barn, on: date, at: datetime, by: User) -> Stay:
    """The horse stands at another barn from that day on. Its history follows it; the old barn stays readable."""
    animal = _locked(animal)
    if animal.barn_id == barn.pk:
        raise Refused(f"{animal} already stands at {barn}.")
    if on > today_of(at):
        raise Refused("Write a move down when it has happened, not before.")
    before = animal.stays.order_by("until").last()
    since = None if before is None else before.until + timedelta(days=1)
    last_day = on - timedelta(days=1)
    if since is not None and last_day < since:
        raise Refused(f"{animal} came to {animal.barn} on {say_day(since)}. A move away is later than that.")
    stay = Stay.objects.create(animal=animal, barn=animal.barn, since=since, until=last_day)
    animal.barn = barn
    animal.save(update_fields=["barn"])
    audit.record("horse moved barn", animal, at=at, by=by, changes={"from": stay.barn_id, "to": barn.pk, "on": on})
    return stay


@audit.action
def add_caution(
    *, animal: Animal, area: str, said_by: str, said_on: date, at: datetime, by: User, note: str = ""
) -> Caution:
    if not area.strip():
        raise Refused("Name the place on the body.")
    if not said_by.strip():
        raise Refused("A caution names who said it.")
    if said_on > today_of(at):
        raise Refused("The day it was said is still to come.")
    caution = Caution.objects.create(
        animal=animal, area=area.strip(), note=note.strip(), said_by=said_by.strip(), said_on=said_on
    )
    audit.record("caution added", caution, at=at, by=by, changes={"animal": animal.pk, "said_on": said_on})
    return caution


@audit.action
def end_caution(*, caution: Caution, on: date, at: datetime, by: User) -> Caution:
    """The caution no longer holds from that day on."""
    caution = Caution.objects.select_for_update().get(pk=caution.pk)
    if caution.ended_on is not None:
        raise Refused(f"This caution already ended on {say_day(caution.ended_on)}.")
    if on < caution.said_on:
        raise Refused(f"It was said on {say_day(caution.said_on)}; it cannot end before that.")
    if on > today_of(at):
        raise Refused("The day it ends is still to come.")
    caution.ended_on = on
    caution.save(update_fields=["ended_on"])
    audit.record("caution ended", caution, at=at, by=by, changes={"animal": caution.animal_id, "ended_on": on})
    return caution


@dataclass(frozen=True, slots=True)
class HealthAnswer:
    """What was answered to one question of the intake."""

    state: HealthFact.State
    note: str = ""
    covered_on: date | None = None


@audit.action
def record_health(
    *, animal: Animal, answers: Mapping[HealthFact.Kind, HealthAnswer], on: date, at: datetime, by: User | None
) -> list[HealthFact]:
    """One new row for each answer given on that day, whether it changed or was only asked again; earlier rows stay."""
    if not answers:
        raise Refused("No answer was given, so nothing was written down.")
    if on > today_of(at):
        raise Refused("The day of asking is still to come.")
    for kind, answer in answers.items():
        _refuse_bad_answer(kind, answer, on)
    facts = [
        HealthFact.objects.create(
            animal=animal,
            kind=kind,
            state=answer.state,
            note=answer.note.strip(),
            covered_on=answer.covered_on,
            asked_on=on,
            recorded_at=at,
            recorded_by=by,
        )
        for kind, answer in answers.items()
    ]
    changes = {"on": on, "facts": [fact.pk for fact in facts]}
    audit.record("health asked", animal, at=at, by=by, changes=changes)
    return facts


def _refuse_bad_answer(kind: HealthFact.Kind, answer: HealthAnswer, on: date) -> None:
    if answer.covered_on is None:
        return
    if kind != HealthFact.Kind.IN_FOAL or answer.state != HealthFact.State.YES:
        raise Refused("A covering date goes with “yes” to in foal, and with nothing else.")
    if answer.covered_on > on:
        raise Refused("The covering date is later than the day of asking.")


@audit.action
def log_enquiry(
    *,
    name: str,
    phone: str,
    email: str,
    barn: Barn | None,
    barn_name: str,
    asked_about: str,
    on: date,
    at: datetime,
    by: User,
    horse_name: str = "",
    known: Person | None = None,
) -> Person:
    """Somebody asked. A name and a barn are enough; a known person, barn or horse is used again."""
    if not name.strip() and known is None:
        raise Refused("An enquiry needs a name.")
    if barn is None:
        barn = _barn_called(barn_name, at=at, by=by)
    person = known or Person(name=name.strip())
    person.phone, person.email = person.phone or phone.strip(), person.email or email.strip()
    person.asked_on, person.asked_about, person.asked_barn = on, asked_about.strip(), barn
    person.save()
    audit.record("enquiry", person, at=at, by=by, changes={"on": on, "barn": barn.pk, "known": known is not None})
    if horse_name.strip():
        _horse_called(horse_name.strip(), person=person, barn=barn, on=on, at=at, by=by)
    return person


def _barn_called(name: str, *, at: datetime, by: User) -> Barn:
    if not name.strip():
        raise Refused("An enquiry needs a barn.")
    known = barns_named(name)
    if len(known) > 1:
        raise Refused(f"{len(known)} barns are called {name.strip()}: start from the page of the right one.")
    if known:
        return known[0]
    barn = Barn.objects.create(name=name.strip())
    audit.record("barn added", barn, at=at, by=by)
    return barn


def _horse_called(name: str, *, person: Person, barn: Barn, on: date, at: datetime, by: User) -> Animal:
    for animal in Animal.objects.filter(ownerships__in=Ownership.objects.on(on).filter(person=person)):
        if folded(animal.name) == folded(name):
            return animal
    return add_animal(animal=Animal(name=name, barn=barn), owner=person, since=on, at=at, by=by)
