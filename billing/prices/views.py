"""Settings of money: everything that holds from a day on, shown and changed in one way."""

from datetime import date
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from billing.prices import forms, tables
from billing.prices.actions import change_rate, record_rate, save_price_list, take_back_rate
from billing.prices.call_out_form import CallOutForm
from billing.prices.kinds import NO_TAX, RateKind, get_kind_or_404, page_of
from billing.prices.models import CallOutRule, PersonTerms, Price, PriceList, TaxRate
from billing.prices.opening import FirstPricesForm, open_price_list
from billing.prices.queries import (
    cost_rates_on,
    default_price_list,
    fee_rule_on,
    hire_rate_on,
    latest,
    money_rules_on,
    priced,
)
from billing.prices.words import say_call_out, say_deposit, say_fees


def get_price_list_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_MONEY) -> PriceList:
    demand(request, power)
    return get_object_or_404(PriceList, pk=pk)


@require_GET
@needs(Power.SEE_MONEY)
def prices(request: StaffRequest) -> HttpResponse:
    """What holds today, list by list, and the way to each setting of money."""
    today, business = timezone.localdate(), request.business  # type: ignore[attr-defined]
    rules = money_rules_on(today)
    context = {
        "heading": "Prices",
        "kicker": "Settings",
        "lists": _prices_in_force(today),
        "call_outs": _call_outs(request, today),
        "tax_rates": _in_force(list(TaxRate.objects.all()), "category", today),
        "hire": hire_rate_on(today),
        "rounding": rules.get_tax_rounding_display(),
        "deposit": say_deposit(rules, business),
        "fees": say_fees(fee_rule_on(today)),
        "costs": cost_rates_on(today) if request.user.may(Power.SEE_MARGINS) else None,
        "terms": PersonTerms.objects.select_related("person", "price_list")[:12],
        "no_tax": NO_TAX,
    }
    return render(request, "billing/prices/prices.html", context)


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def prices_first(request: StaffRequest) -> HttpResponse:
    """A new business writes down on one page what a first quote needs."""
    form = FirstPricesForm(request.POST or None, currency=request.business.currency)  # type: ignore[attr-defined]
    back = reverse("billing:prices")
    if request.method == "POST" and form.is_valid():
        asked = {name: form.cleaned_data[name] for name in ("uses_machine", "call_out", "split")}
        with showing_refusal(form):
            open_price_list(prices=form.prices, at=timezone.now(), by=request.user, **asked)
            messages.success(request, "Your prices hold from today. More of them, packages and hire are on this page.")
            return redirect(back)
    intro = "What a first quote needs. Everything can be changed and added to later, and the past keeps its prices."
    return render_form(
        request, form, heading="Your first prices", submit="Save the prices", back=back, kicker="Settings", intro=intro
    )


def _prices_in_force(today: date) -> list[tuple[PriceList, list[Price]]]:
    rows: dict[tuple[int, int], list[Price]] = {}
    for row in priced().order_by("service__kind", "service__name"):
        rows.setdefault((row.price_list_id, row.service_id), []).append(row)
    current = [price for prices in rows.values() if (price := latest(prices, today))]
    return [(each, [price for price in current if price.price_list_id == each.pk]) for each in PriceList.objects.all()]


def _call_outs(request: HttpRequest, today: date) -> list[tuple[CallOutRule, str]]:
    rules = _in_force(list(CallOutRule.objects.prefetch_related("bands")), "zone", today)
    return [(rule, say_call_out(rule, request.business)) for rule in rules]  # type: ignore[attr-defined]


def _in_force(rows: list[Any], key: str, today: date) -> list[Any]:
    names = sorted({getattr(row, key) for row in rows})
    found = [latest([row for row in rows if getattr(row, key) == name], today) for name in names]
    return [row for row in found if row is not None]


@require_GET
def price_list(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_price_list_or_404(request, pk)
    may_change = request.user.may(Power.CHANGE_SETTINGS)
    add = f"{reverse('billing:price-new')}?list={found.pk}"
    return render_list(
        request,
        table_class=tables.PriceTable,
        filterset=tables.PriceFilter(request.GET, queryset=priced().filter(price_list=found)),
        heading=found.name,
        context={"kicker": "Price list"},
        new=("New price", add) if may_change else None,
        empty=("No price yet", "Record what each service costs.", "New price", add),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_SETTINGS)
def price_list_new(request: StaffRequest) -> HttpResponse:
    return _price_list_form(request, PriceList(), "New price list")


@require_http_methods(["GET", "POST"])
def price_list_edit(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_price_list_or_404(request, pk, Power.CHANGE_SETTINGS)
    return _price_list_form(request, found, found.name)


def _price_list_form(request: StaffRequest, instance: PriceList, heading: str) -> HttpResponse:
    form = forms.PriceListForm(request.POST or None, instance=instance)
    if request.method == "POST" and form.is_valid():
        kept = save_price_list(price_list=form.save(commit=False), at=timezone.now(), by=request.user)
        messages.success(request, f"{kept} is kept.")
        return redirect(kept)
    return render_form(
        request, form, heading=heading, submit="Keep the list", back=reverse("billing:prices"), kicker="Prices"
    )


@require_GET
def rates(request: StaffRequest, kind: str) -> HttpResponse:
    found = get_kind_or_404(request, kind)
    add = reverse(f"billing:{found.new}")
    may_change = request.user.may(found.change)
    return render_list(
        request,
        table_class=found.table,
        filterset=found.filterset(request.GET, queryset=found.listed()),
        heading=found.heading,
        context={"kicker": "Settings"},
        new=(f"New {found.one}", add) if may_change else None,
        empty=(f"No {found.one} yet", found.text, f"New {found.one}", add if may_change else ""),
    )


def _form(request: HttpRequest, kind: RateKind, **start: Any) -> forms.RateForm:
    if issubclass(kind.form, CallOutForm):
        start["way"] = request.GET.get("way", "")
    currency = str(request.business.currency)  # type: ignore[attr-defined]
    return kind.form(request.POST or None, currency=currency, today=timezone.localdate(), **start)


@require_http_methods(["GET", "POST"])
def rate_new(request: StaffRequest, kind: str) -> HttpResponse:
    found = get_kind_or_404(request, kind, to_change=True)
    start = {
        "price_list": request.GET.get("list") or (default_price_list() if kind == "prices" else None),
        "person": request.GET.get("person"),
    }
    form = _form(request, found, initial=start)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            rate = form.save(commit=False)
            record_rate(rate=rate, rows=form.rows, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, f"Recorded from {rate.since:%-d %b %Y}.")
            return redirect(page_of(kind, rate))
    return _rate_page(request, kind, found, form, heading=f"New {found.one}")


@require_http_methods(["GET", "POST"])
def rate_edit(request: StaffRequest, kind: str, pk: int) -> HttpResponse:
    found = get_kind_or_404(request, kind, to_change=True)
    rate = get_object_or_404(found.model, pk=pk)
    form = _form(request, found, instance=rate)
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            rate = form.save(commit=False)
            change_rate(rate=rate, rows=form.rows, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, "Changed.")
            return redirect(page_of(kind, rate))
    passed = form.initial["since"] < timezone.localdate()
    return _rate_page(request, kind, found, form, heading=f"Change this {found.one}", rate=rate, passed=passed)


@require_POST
def rate_take_back(request: StaffRequest, kind: str, pk: int) -> HttpResponse:
    found = get_kind_or_404(request, kind, to_change=True)
    rate: Any = get_object_or_404(found.model, pk=pk)
    back = page_of(kind, rate)
    take_back_rate(rate=rate, at=timezone.now(), by=request.user)
    messages.success(request, "Taken back: the one before it goes on.")
    return redirect(back)


def _rate_page(
    request: StaffRequest, name: str, kind: RateKind, form: forms.RateForm, *, heading: str, **context: Any
) -> HttpResponse:
    return render_form(
        request,
        form,
        heading=heading,
        submit="Record",
        back=page_of(name, context.get("rate")),
        kicker=kind.heading,
        intro=kind.text,
        template="billing/prices/rate.html",
        context={"kind": name, "hint": kind.hint(request.business) if kind.hint else "", **context},  # type: ignore[attr-defined]
    )
