from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.db import models, transaction
from django.db.models import ProtectedError

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.lists.kinds import KINDS, BadRow, Kind, Moment
from backoffice.lists.models import BroughtList
from backoffice.lists.reading import Table
from backoffice.refusal import Refused
from clients.animals.models import Animal
from clients.people.models import Barn, Person
from clients.people.names import folded

FIRST_ROW = 2  # as a spreadsheet counts, below the heading


@dataclass(frozen=True, slots=True)
class Problem:
    """A row that cannot be brought in, by its number in the spreadsheet, and why."""

    number: int
    said: str
    sentences: tuple[str, ...]


@audit.action
def read_list(*, kind: str, name: str, table: Table, at: datetime, by: User) -> BroughtList:
    """Keep a list as it was read; lists of the same person that nobody went on with are let go."""
    BroughtList.objects.filter(by=by, state=BroughtList.State.READ).delete()
    found = BroughtList.objects.create(kind=kind, name=name[:120], heading=table.heading, rows=table.rows, at=at, by=by)
    audit.record("list read", found, at=at, by=by, changes={"kind": kind, "rows": len(table.rows)})
    return found


def look_through(brought: BroughtList, columns: Mapping[str, str], *, at: datetime) -> list[Problem]:
    """Bring every row in, on trial: nothing stays."""
    with transaction.atomic():
        problems, _ = _go_through(brought, columns, at=at)
        transaction.set_rollback(True)
    return problems


@audit.action
def bring_in(
    *, brought: BroughtList, columns: Mapping[str, str], leave_out: bool, at: datetime, by: User
) -> BroughtList:
    """Every row, or with `leave_out` every good one."""
    brought = BroughtList.objects.select_for_update().get(pk=brought.pk)
    if brought.state != BroughtList.State.READ:
        raise Refused("This list is brought in already.")
    problems, made = _go_through(brought, columns, at=at)
    if problems and not leave_out:
        raise Refused("Some rows have a problem. Mend them in your list, or leave them out.")
    if not made:
        raise Refused("No row of this list can be brought in.")
    brought.state, brought.made, brought.columns, brought.at = BroughtList.State.DONE, made, dict(columns), at
    brought.save()
    audit.record("list brought in", brought, at=at, by=by, changes={"rows": len(made), "left_out": len(problems)})
    return brought


@audit.action
def undo(*, brought: BroughtList, at: datetime, by: User) -> BroughtList:
    """Take all of a list out again, as long as nothing else has come to need it."""
    brought, kind = BroughtList.objects.select_for_update().get(pk=brought.pk), KINDS[brought.kind]
    if brought.state != BroughtList.State.DONE:
        raise Refused("This list is not brought in.")
    if not kind.can_be_undone:
        raise Refused("What is in the books stays there: write off what was wrong.")
    for _, key in reversed(brought.made):
        record = kind.model._base_manager.filter(pk=key).first()
        if record is not None:
            _delete(record)
    brought.state = BroughtList.State.UNDONE
    brought.save(update_fields=["state"])
    audit.record("list undone", brought, at=at, by=by, changes={"rows": len(brought.made)})
    return brought


def _delete(record: models.Model) -> None:
    try:
        record.delete()
    except ProtectedError as needed:
        other = next(iter(needed.protected_objects))
        raise Refused(
            f"{record} is needed by {other._meta.verbose_name} “{other}” by now: undo that first."
        ) from needed


def _go_through(
    brought: BroughtList, columns: Mapping[str, str], *, at: datetime
) -> tuple[list[Problem], list[tuple[str, int]]]:
    kind, problems, made = KINDS[brought.kind], [], []
    moment = Moment(today=local_date(at), at=at, by=brought.by, known=_known())
    place = {key: brought.heading.index(name) for key, name in columns.items() if name in brought.heading}
    for number, cells in enumerate(brought.rows, start=FIRST_ROW):
        row = {key: str(cells[index]) for key, index in place.items()}
        try:
            record = _make(kind, row, moment)
        except BadRow as wrong:
            problems.append(Problem(number, row.get("name", ""), wrong.sentences))
        except Refused as refused:
            problems.append(Problem(number, row.get("name", ""), (refused.sentence,)))
        else:
            made.append((row.get("own", ""), record.pk))
    return problems, made


def _make(kind: Kind, row: Mapping[str, str], moment: Moment) -> models.Model:
    missing = [f"{column.label} is missing." for column in kind.columns if column.is_needed and not row.get(column.key)]
    if missing:
        raise BadRow(missing)
    with transaction.atomic():
        return kind.make(row, moment)


def _known() -> dict[str, dict[str, int]]:
    """By name, where it is the only one of that name; and by what lists that were brought in called them."""
    kinds = {"barns": Barn, "people": Person, "horses": Animal}
    return {kind: _by_name(model) | _by_number(kind) for kind, model in kinds.items()}


def _by_name(model: type[models.Model]) -> dict[str, int]:
    found: dict[str, int] = {}
    doubles = set()
    for key, name in model._base_manager.values_list("pk", "name"):
        if folded(name) in found:
            doubles.add(folded(name))
        found[folded(name)] = key
    return {name: key for name, key in found.items() if name not in doubles}


def _by_number(kind: str) -> dict[str, int]:
    lists = BroughtList.objects.filter(kind=kind, state=BroughtList.State.DONE).order_by("at", "pk")
    return {folded(own): key for brought in lists for own, key in brought.made if own}
