"""A value on a named scale is written down, or taken back when it was a slip."""

from datetime import date, datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from clients.animals.actions import today_of
from clients.animals.models import Animal, Measure
from clients.animals.scales import SCALES, weight_by_tape

Tape = tuple[Decimal, Decimal]


@audit.action
def take_measure(
    *,
    animal: Animal,
    kind: Measure.Kind,
    value: Decimal | Tape,
    on: date,
    given_by: str,
    note: str = "",
    at: datetime,
    by: User,
) -> Measure:
    """Write a value down as it was given; by tape it is girth and length in cm, which give the weight."""
    girth, length = value if isinstance(value, tuple) else (None, None)
    if (kind == Measure.Kind.TAPE) != isinstance(value, tuple):
        raise Refused("A weight by tape is reckoned from girth and length, and nothing else is.")
    amount = weight_by_tape(*value) if isinstance(value, tuple) else value
    fault = SCALES[kind].fault(amount)
    if fault:
        raise Refused(fault)
    if on > today_of(at):
        raise Refused("The day of the measure is still to come.")
    if not given_by.strip():
        raise Refused(f"Say who gave the value: {SCALES[kind].whose or 'whoever measured'}.")
    measure = Measure.objects.create(
        animal=animal,
        kind=kind,
        value=amount,
        girth_cm=girth,
        length_cm=length,
        taken_on=on,
        given_by=given_by.strip(),
        note=note.strip(),
        recorded_at=at,
        recorded_by=by,
    )
    audit.record("measure taken", measure, at=at, by=by, changes={"animal": animal.pk, "kind": str(kind), "on": on})
    return measure


@audit.action
def take_measure_back(*, measure: Measure, at: datetime, by: User) -> None:
    """A slip: the value goes; the trail keeps that it was there, on what scale and day."""
    changes = {"animal": measure.animal_id, "kind": measure.kind, "on": measure.taken_on}
    audit.record("measure taken back", measure, at=at, by=by, changes=changes)
    measure.delete()
