from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from clients.animals.models import Animal
from clients.animals.queries import animal_facts, get_animal_or_404, measures_of
from clients.incidents.queries import incidents
from clients.paperwork.facts import Work
from clients.paperwork.queries import papers_of, permission_for_each, work_of
from clients.plans.models import Plan, Service
from clients.plans.queries import offered_services, plans_of, services_of
from clients.visits.actions import note_death, note_sale, take_death_back
from clients.visits.forms import DeathForm, SaleForm
from clients.visits.queries import StillToCome, coming_visits, past_visits, still_to_come

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
        "measures": [rows[-1] for rows in measures_of(found).values()] if request.user.may(Power.SEE_HEALTH) else [],
        "plans": its_plans,
        "ahead": list(coming_visits(found, today)[:SHOWN_AHEAD]),
        "past": past,
        "earlier": list(found.earlier_work.select_related("service")[:SHOWN_PAST]),
        "last": next((visit.sessions.all()[0] for visit in past if visit.sessions.all()), None),
        "today": today,
    }
    return render(request, "clients/visits/animal.html", context)


def _usual_work(its_plans: list[Plan]) -> Work:
    """What permission is shown for: the first service of the plan that runs or is proposed, else a full body."""
    by_state = {plan.state: plan for plan in reversed(its_plans)}
    current = by_state.get(Plan.State.RUNNING) or by_state.get(Plan.State.PROPOSED)
    if current is not None:
        services = [*services_of(current), current.full_service]
        return work_of(services[0], plan=current)
    offered = offered_services().filter(kind=Service.Kind.FULL).first()
    return work_of(offered) if offered else Work(kind="full", uses_machine=True, name="Full body")


SOLD = (
    "Its plans stop and later visits are released without a fee. Nobody is worked for the new owner before they have "
    "signed. Packages and credit stay with whoever paid for them. What was recorded before goes to the new owner only "
    "with the old owner's yes."
)
DIED = "Its plans stop, later visits are released without a fee, and nobody is asked or reminded about it any more."


@require_http_methods(["GET", "POST"])
def animal_sold(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    form = SaleForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            buyer, on = form.person(), form.cleaned_data["on"]
            coming = note_sale(animal=found, buyer=buyer, on=on, at=timezone.now(), by=request.user)
            messages.success(request, f"{found} belongs to {buyer} now. {_let_go(coming)} Next: ask {buyer} to sign.")
            return redirect(found)
    return _leaving(request, form, found, heading="Sold", submit="Sold", intro=SOLD)


@require_http_methods(["GET", "POST"])
def animal_died(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    form = DeathForm(request.POST or None, today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            coming = note_death(animal=found, on=form.cleaned_data["on"], at=timezone.now(), by=request.user)
            messages.success(request, f"Noted. {_let_go(coming)}")
            return redirect(found)
    return _leaving(request, form, found, heading="Died", submit="Died", intro=DIED)


@require_POST
def animal_lives(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_animal_or_404(request, pk, Power.CHANGE_CARE)
    take_death_back(animal=found, at=timezone.now(), by=request.user)
    messages.success(request, f"{found} is no longer noted as dead. Plans and visits that ended are made anew by hand.")
    return redirect(found)


def _leaving(
    request: StaffRequest, form: SaleForm | DeathForm, animal: Animal, *, heading: str, submit: str, intro: str
) -> HttpResponse:
    """The form, with what is still to come for the horse in view before anything is let go."""
    return render_form(
        request,
        form,
        heading=heading,
        submit=submit,
        back=animal.get_absolute_url(),
        kicker=str(animal),
        intro=intro,
        template="clients/visits/leaving.html",
        context={"coming": still_to_come(animal, timezone.localdate())},
    )


def _let_go(coming: StillToCome) -> str:
    """What ended, in one sentence."""
    words = {"plans": ("plan stopped", "plans stopped"), "visits": ("visit released", "visits released")}
    words["forms"] = ("form withdrawn", "forms withdrawn")
    said = [f"{count} {words[what][count > 1]}" for what, count in coming.counts.items() if count]
    return f"{', '.join(said).capitalize()}." if said else "Nothing was planned."
