from collections.abc import Sequence
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from billing.packages.actions import keep_rest, sell_package, start_monthly_plan, stop_monthly_plan, undo_use
from billing.packages.queries import (
    get_package_or_404,
    get_run_or_404,
    get_use_or_404,
    left_of,
    packages_listed,
    runs_listed,
    trail_of,
)
from billing.packages.sale_forms import SellForm, StartPlanForm
from billing.packages.sold import Use
from billing.packages.tables import RUN_STATES, STATES, PackageFilter, PackageTable, RunFilter, RunTable
from clients.animals.models import Animal, Role
from clients.animals.queries import horses_owned_by, roles_of
from clients.people.models import Person
from clients.people.queries import get_person_or_404


@require_GET
@needs(Power.SEE_MONEY)
def packages(request: StaffRequest) -> HttpResponse:
    rows = packages_listed(timezone.localdate())
    return render_list(
        request,
        table_class=PackageTable,
        filterset=PackageFilter(request.GET, queryset=rows),
        heading="Packages",
        template="billing/packages/list.html",
        context={"kicker": "Money", "beside": ("Monthly plans", reverse("billing:monthly-runs"))},
        empty=("No package sold yet", "Open somebody’s account and sell one there.", *_who()),
    )


@require_GET
@needs(Power.SEE_MONEY)
def monthly_runs(request: StaffRequest) -> HttpResponse:
    rows = runs_listed(timezone.localdate())
    return render_list(
        request,
        table_class=RunTable,
        filterset=RunFilter(request.GET, queryset=rows),
        heading="Monthly plans",
        template="billing/packages/list.html",
        context={"kicker": "Money", "beside": ("Packages", reverse("billing:packages"))},
        empty=(
            "No monthly plan yet",
            "Open somebody’s account and start one there.",
            "Who owes what",
            "/money/payers/",
        ),
    )


@require_GET
def package(request: StaffRequest, pk: int) -> HttpResponse:
    sold, today = get_package_or_404(request, pk), timezone.localdate()
    state = str(packages_listed(today).values_list("state", flat=True).get(pk=pk))
    context = {
        "sold": sold,
        "state": state,
        "tone": STATES[state][0],
        "left": left_of([sold])[sold.pk],
        "uses": trail_of(sold.uses.all()),
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/packages/package.html", context)


@require_GET
def monthly_run(request: StaffRequest, pk: int) -> HttpResponse:
    run, today = get_run_or_404(request, pk), timezone.localdate()
    state = str(runs_listed(today).values_list("state", flat=True).get(pk=pk))
    context = {
        "run": run,
        "state": state,
        "tone": RUN_STATES[state][0],
        "months": run.months.select_related("charge").order_by("-first"),
        "uses": trail_of(Use.objects.filter(month__run=run)),
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/packages/monthly_run.html", context)


@require_http_methods(["GET", "POST"])
def package_sell(request: StaffRequest, payer_pk: int) -> HttpResponse:
    payer, today = get_person_or_404(request, payer_pk, Power.CHANGE_MONEY), timezone.localdate()
    form = SellForm(request.POST or None, on=today, animals=_horses(payer), business=_business(request))
    if request.method == "POST" and form.is_valid():
        chosen, animals = form.cleaned_data["package"], list(form.cleaned_data["animals"])
        sold = sell_package(package=chosen, payer=payer, on=today, animals=animals, at=timezone.now(), by=request.user)
        messages.success(request, f"{sold} is sold. Its price waits under Not yet charged.")
        return redirect(sold)
    return _sale_page(request, form, payer, "Sell a package", "package-offers")


@require_http_methods(["GET", "POST"])
def monthly_run_start(request: StaffRequest, payer_pk: int) -> HttpResponse:
    payer, today = get_person_or_404(request, payer_pk, Power.CHANGE_MONEY), timezone.localdate()
    form = StartPlanForm(request.POST or None, on=today, animals=_horses(payer), business=_business(request))
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            run = start_monthly_plan(**form.cleaned_data, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, f"{run} runs from {run.start:%-d %b %Y}.")
            return redirect(run)
    return _sale_page(request, form, payer, "Start a monthly plan", "plan-offers")


def _sale_page(
    request: StaffRequest, form: SellForm | StartPlanForm, payer: Person, heading: str, offers: str
) -> HttpResponse:
    nothing = "" if form.offers else "Nothing is on sale yet. Record it under Settings, Prices, first."
    return render_form(
        request,
        form,
        heading=heading,
        kicker=payer.name,
        submit=heading,
        back=reverse("billing:payer", args=[payer.pk]),
        intro=nothing or "Its price waits to be confirmed under Not yet charged, and goes on the next invoice.",
        context={"offers": reverse(f"billing:{offers}")},
    )


@require_POST
def package_keep(request: StaffRequest, pk: int) -> HttpResponse:
    sold = get_package_or_404(request, pk, Power.CHANGE_MONEY)
    keep_rest(sold=sold, at=timezone.now(), by=request.user)
    messages.success(request, f"What {sold} left unused is kept.")
    return redirect(sold)


@require_POST
def use_undo(request: StaffRequest, pk: int) -> HttpResponse:
    use = get_use_or_404(request, pk, Power.CHANGE_MONEY)
    undo_use(use=use, reason=request.POST.get("reason", ""), at=timezone.now(), by=request.user)
    messages.success(request, "Given back. The session waits under Not yet charged.")
    return redirect(use.sold or use.month.run)  # type: ignore[union-attr]


@require_POST
def monthly_run_stop(request: StaffRequest, pk: int) -> HttpResponse:
    run = get_run_or_404(request, pk, Power.CHANGE_MONEY)
    stopped = stop_monthly_plan(run=run, reason=request.POST.get("reason", ""), at=timezone.now(), by=request.user)
    messages.success(request, f"It ends on {stopped.ends_on:%-d %b %Y}.")
    return redirect(run)


def _who() -> tuple[str, str]:
    return "Who owes what", reverse("billing:payers")


def _horses(payer: Person) -> Sequence[Animal]:
    """The horses somebody owns, or pays for in the owners' place."""
    today = timezone.localdate()
    owned = [row.animal for row in horses_owned_by(payer, today)]
    paid_for = [role.animal for role in roles_of(payer, today) if role.kind == Role.Kind.PAYER]
    return [*owned, *(animal for animal in paid_for if animal not in owned)]


def _business(request: StaffRequest) -> Any:
    return request.business  # type: ignore[attr-defined]
