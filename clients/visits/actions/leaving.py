"""A horse goes to another owner, or dies: one action each, so that nothing that was promised for it is forgotten."""

from datetime import date, datetime
from fractions import Fraction

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.links.actions import revoke_links
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from clients.animals.actions import say_day, set_owners, set_roles, today_of
from clients.animals.models import Animal, Ownership, Role
from clients.paperwork.models import Form, VetReferral
from clients.paperwork.signing import withdraw_form
from clients.people.models import Person
from clients.plans.actions import stop_plan
from clients.visits.actions.booking import cancel_visit
from clients.visits.queries import StillToCome, still_to_come


@audit.action
def note_sale(*, animal: Animal, buyer: Person, on: date, at: datetime, by: User) -> StillToCome:
    """The horse is the buyer's from that day on: its plans stop, visits ahead are released without a fee, links close.

    Who paid and who ordered for the old owners is given back; a handler stays unless that was an old owner. What the
    old owners signed holds no longer, so that work waits for the buyer's consent. Packages and credit stay with whoever
    paid for them. Returns what was let go.
    """
    animal = _living(animal, on=on, at=at)
    owners = set(Ownership.objects.on(on).filter(animal=animal).values_list("person", flat=True))
    if owners == {buyer.pk}:
        raise Refused(f"{animal} already belongs to {buyer}.")
    if buyer.pk is None:
        buyer.save()
        audit.record("person added", buyer, at=at, by=by)
    coming = _let_go(animal, f"{animal} was sold on {say_day(on)}.", after=today_of(at), at=at, by=by)
    set_owners(animal=animal, shares=[(buyer, Fraction(1))], since=on, at=at, by=by)
    held = animal.roles.filter(until__isnull=True).exclude(kind=Role.Kind.HANDLER)
    held |= animal.roles.filter(until__isnull=True, person__in=owners)
    set_roles(animal=animal, holders={Role.Kind(role.kind): None for role in held}, since=on, at=at, by=by)
    audit.record("horse sold", animal, at=at, by=by, changes={"on": on, "to": buyer.pk, **coming.counts})
    return coming


@audit.action
def note_death(*, animal: Animal, on: date, at: datetime, by: User) -> StillToCome:
    """The horse died that day: its plans stop, later visits are released without a fee, nobody is asked to sign.

    Returns what was let go.
    """
    animal = _living(animal, on=on, at=at)
    if animal.birth_year and on.year < animal.birth_year:
        raise Refused(f"This is before its birth year, {animal.birth_year}.")
    coming = _let_go(animal, f"{animal} died on {say_day(on)}.", after=on, at=at, by=by)
    animal.died_on = on
    animal.save(update_fields=["died_on"])
    audit.record("horse died", animal, at=at, by=by, changes={"on": on, **coming.counts})
    return coming


@audit.action
def take_death_back(*, animal: Animal, at: datetime, by: User) -> Animal:
    """It was noted by mistake. What was stopped and released then stays so, and is made anew by hand."""
    animal = _locked(animal)
    if animal.died_on is None:
        raise Refused(f"{animal} is not noted as dead.")
    was, animal.died_on = animal.died_on, None
    animal.save(update_fields=["died_on"])
    audit.record("death taken back", animal, at=at, by=by, changes={"was": was})
    return animal


def _locked(animal: Animal) -> Animal:
    return Animal.objects.select_for_update(of=("self",)).get(pk=animal.pk)


def _living(animal: Animal, *, on: date, at: datetime) -> Animal:
    animal = _locked(animal)
    if animal.died_on is not None:
        raise Refused(f"{animal} died on {say_day(animal.died_on)}.")
    if on > today_of(at):
        raise Refused("Write it down when it has happened, not before.")
    return animal


def _let_go(animal: Animal, reason: str, *, after: date, at: datetime, by: User) -> StillToCome:
    coming = still_to_come(animal, after)
    for plan in coming.plans:
        stop_plan(plan=plan, at=at, by=by)
    for visit in coming.visits:
        cancel_visit(visit=visit, reason=reason, without_fee=True, at=at, by=by)
    for form in coming.forms:
        withdraw_form(form=form, at=at, by=by)
    _close_links(animal, at=at, by=by)
    return coming


def _close_links(animal: Animal, *, at: datetime, by: User) -> None:
    """Every private link to paper about the horse, signed or answered or not."""
    for form in Form.objects.filter(animal=animal):
        revoke_links(purpose=PrivateLink.Purpose.FORM, target=form, at=at, by=by)
    for referral in VetReferral.objects.filter(animal=animal):
        revoke_links(purpose=PrivateLink.Purpose.REFERRAL, target=referral, at=at, by=by)
