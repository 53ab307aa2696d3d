from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from backoffice.access.doors import StaffRequest, demand
from backoffice.access.powers import Power
from clients.animals.measure_chart import Chart, Series, draw
from clients.animals.models import Measure
from clients.animals.queries import get_animal_or_404, measures_of
from clients.animals.scales import EASE, SCALES, Scale
from clients.visits.models import Session
from clients.visits.queries import ease_over_time


@dataclass(frozen=True, slots=True)
class Course:
    """One scale with its chart, where two days make one, and its values, the latest first."""

    scale: Scale
    chart: Chart | None
    rows: Sequence[Measure]


@require_GET
def measures(request: StaffRequest, pk: int) -> HttpResponse:
    """What was measured of a horse over time, each on its named scale; ease from the visits first."""
    demand(request, Power.SEE_HEALTH)
    animal = get_animal_or_404(request, pk)
    sessions = ease_over_time(animal)
    courses = [
        Course(SCALES[kind], draw(SCALES[kind], [("", [(row.taken_on, row.value) for row in rows])]), rows[::-1])
        for kind, rows in measures_of(animal).items()
    ]
    context = {
        "animal": animal,
        "ease": EASE,
        "ease_chart": draw(EASE, _ease(sessions)),
        "ease_rows": sessions[::-1],
        "courses": courses,
        "kinds": Measure.Kind.choices,
    }
    return render(request, "clients/visits/measures.html", context)


def _ease(sessions: Sequence[Session]) -> list[Series]:
    before = [(each.visit.day, Decimal(each.ease_before)) for each in sessions if each.ease_before is not None]
    after = [(each.visit.day, Decimal(each.ease_after)) for each in sessions if each.ease_after is not None]
    return [("before", before), ("after", after)]
