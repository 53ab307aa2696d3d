"""What the round's paper leaves to write on by hand, where a phone is dead: the facts of the visit sheet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from clients.animals.areas import FULL_BODY, names_same_place
from clients.animals.models import Caution
from clients.animals.queries import cautions_on
from clients.plans.models import Service
from clients.visits.forms import SheetForm
from clients.visits.models import Session, StopList, Visit
from clients.visits.queries import OPEN, last_sessions
from clients.visits.stop_lists import LISTS

BLANK_LINES = {True: 2, False: 6}  # after a full body's places and after others'; one fewer makes the number even


@dataclass(frozen=True, slots=True)
class Line:
    """One place to write minutes beside; an empty name leaves the name to write too."""

    name: str
    is_careful: bool = False
    last: int | None = None


@dataclass(frozen=True, slots=True)
class Block:
    visit: Visit
    lines: Sequence[Line]
    cautions: Sequence[Caution]
    last: Session | None

    @property
    def rows(self) -> list[tuple[Line, Line]]:
        """The lines in two columns; their number is even."""
        middle = len(self.lines) // 2
        return list(zip(self.lines[:middle], self.lines[middle:], strict=True))


def writing_context(visits: Sequence[Visit], day: date) -> Mapping[str, object]:
    """One block for each visit that is still to be done, in their order."""
    left = [visit for visit in visits if visit.status in OPEN]
    animals = [visit.animal for visit in left]
    cautions, last = cautions_on(animals, day), last_sessions([animal.pk for animal in animals], before=day)
    return {
        "blocks": [_block(visit, cautions[visit.animal_id], last.get(visit.animal_id)) for visit in left],
        "arrival_lines": [SheetForm.base_fields[name].label for name in SheetForm.ARRIVAL],
        "set_up_lines": list(LISTS[StopList.Kind.SET_UP].values()),
        "causes": [label for _, label in Visit.Cause.choices],
    }


def _block(visit: Visit, cautions: Sequence[Caution], last: Session | None) -> Block:
    before = {each.area: each.minutes for each in last.areas.all()} if last else {}
    is_full = visit.service.kind == Service.Kind.FULL
    names = [area.name for area in FULL_BODY] if is_full else list(before)
    lines = [
        Line(name, any(names_same_place(name, caution.area) for caution in cautions), before.get(name))
        for name in names
    ]
    blanks = [Line("")] * (BLANK_LINES[is_full] - len(lines) % 2)
    return Block(visit, [*lines, *blanks], cautions, last)
