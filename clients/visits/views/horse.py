from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_GET

from backoffice.access.doors import StaffRequest
from backoffice.access.powers import Power
from clients.animals.queries import animal_facts, get_animal_or_404
from clients.incidents.queries import incidents
from clients.paperwork.facts import Work
from clients.paperwork.queries import papers_of, permission_for_each, work_of
from clients.plans.models import Plan
from clients.plans.queries import plans_of, services_of
from clients.visits.queries import coming_visits, past_visits

SHOWN_AHEAD, SHOWN_PAST = 5, 8


@require_GET
def animal(request: StaffRequest, pk: int) -> HttpResponse:
    """The horse's page: what is recorded, its papers, its plans, what lies ahead and what was done."""
    found = get_animal_or_404(request, pk)
    today = timezone.localdate()
    its_plans = list(plans_of(found.pk))
    past = list(past_visits(found, today)[:SHOWN_PAST])
    context = {
        "animal": found,
        "facts": animal_facts(found, today),
        "papers": papers_of(found),
        "permission": permission_for_each([(found, _usual_work(its_plans))], on=today)[0],
        "incidents": incidents().filter(animal=found)[:5] if request.user.may(Power.SEE_HEALTH) else [],
        "plans": its_plans,
        "ahead": list(coming_visits(found, today)[:SHOWN_AHEAD]),
        "past": past,
        "last": next((visit.sessions.all()[0] for visit in past if visit.sessions.all()), None),
        "today": today,
    }
    return render(request, "clients/visits/animal.html", context)


def _usual_work(its_plans: list[Plan]) -> Work:
    """What permission is shown for: the first service of the running plan, else a full body with a machine."""
    running = next((plan for plan in its_plans if plan.state == Plan.State.RUNNING), None)
    if running is None:
        return Work(kind="full", uses_machine=True, name="Full body")
    services = [*services_of(running), running.full_service]
    return work_of(services[0], plan=running)
