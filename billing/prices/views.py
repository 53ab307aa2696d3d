"""Settings of money: everything that holds from a day on, shown and changed in one way."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.contrib import messages
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, demand, needs
from backoffice.access.powers import Power
from backoffice.ui.filters import FilterSet
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from backoffice.ui.tables import Table
from billing.prices import forms, tables
from billing.prices.actions import Rate, change_rate, record_rate, save_price_list, take_back_rate
from billing.prices.models import CallOutRule, CostRates, HireRate, PersonTerms, Price, PriceList, TaxRate
from billing.prices.queries import cost_rates_on, default_price_list, hire_rate_on, latest, priced


@dataclass(frozen=True, slots=True)
class RateKind:
    """One kind of dated row: its form, its list, and the powers to see and to change it."""

    model: type[Rate]
    form: type[forms.RateForm]
    table: type[Table]
    filterset: type[FilterSet]
    heading: str
    one: str
    new: str
    text: str
    see: Power = Power.SEE_MONEY
    change: Power = Power.CHANGE_SETTINGS


NO_TAX = "Nothing recorded means no tax on any invoice. Ask your local tax office whether that is right for you."
KINDS = {
    "prices": RateKind(
        Price,
        forms.PriceForm,
        tables.PriceTable,
        tables.PriceFilter,
        "Prices",
        "price",
        "price-new",
        "What a session costs.",
    ),
    "call-outs": RateKind(
        CallOutRule,
        forms.CallOutForm,
        tables.CallOutTable,
        tables.CallOutFilter,
        "Call-outs",
        "call-out rule",
        "call-out-new",
        "What a stop costs, and how its horses share it. Nothing recorded: no call-out is charged.",
    ),
    "hire-rates": RateKind(
        HireRate,
        forms.HireRateForm,
        tables.HireRateTable,
        tables.SinceFilter,
        "Hire",
        "hire rate",
        "hire-rate-new",
        "What a hired machine costs, with its visits.",
    ),
    "tax-rates": RateKind(
        TaxRate,
        forms.TaxRateForm,
        tables.TaxRateTable,
        tables.TaxRateFilter,
        "Tax rates",
        "tax rate",
        "tax-rate-new",
        NO_TAX,
    ),
    "cost-rates": RateKind(
        CostRates,
        forms.CostRatesForm,
        tables.CostRatesTable,
        tables.SinceFilter,
        "What work costs you",
        "cost rate",
        "cost-rate-new",
        "Only you see this: it makes “earned per hour” honest.",
        see=Power.SEE_MARGINS,
        change=Power.SEE_MARGINS,
    ),
    "terms": RateKind(
        PersonTerms,
        forms.PersonTermsForm,
        tables.PersonTermsTable,
        tables.PersonTermsFilter,
        "Who has which price list",
        "agreement",
        "terms-new",
        "Everybody else pays by the default list.",
        change=Power.CHANGE_MONEY,
    ),
}


def get_kind_or_404(request: HttpRequest, name: str, *, to_change: bool = False) -> RateKind:
    """The door of a kind of rate."""
    if name not in KINDS:
        raise Http404(name)
    kind = KINDS[name]
    demand(request, kind.change if to_change else kind.see)
    return kind


def get_price_list_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_MONEY) -> PriceList:
    demand(request, power)
    return get_object_or_404(PriceList, pk=pk)


@require_GET
@needs(Power.SEE_MONEY)
def prices(request: StaffRequest) -> HttpResponse:
    """What holds today, list by list, and the way to each setting of money."""
    today = timezone.localdate()
    context = {
        "heading": "Prices",
        "kicker": "Settings",
        "lists": _prices_in_force(today),
        "call_outs": _in_force(list(CallOutRule.objects.all()), "zone", today),
        "tax_rates": _in_force(list(TaxRate.objects.all()), "category", today),
        "hire": hire_rate_on(today),
        "costs": cost_rates_on(today) if request.user.may(Power.SEE_MARGINS) else None,
        "terms": PersonTerms.objects.select_related("person", "price_list")[:12],
        "no_tax": NO_TAX,
    }
    return render(request, "billing/prices/prices.html", context)


def _prices_in_force(today: date) -> list[tuple[PriceList, list[Price]]]:
    rows: dict[tuple[int, int], list[Price]] = {}
    for row in priced().order_by("service__kind", "service__name"):
        rows.setdefault((row.price_list_id, row.service_id), []).append(row)
    current = [price for prices in rows.values() if (price := latest(prices, today))]
    return [(each, [price for price in current if price.price_list_id == each.pk]) for each in PriceList.objects.all()]


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
    return render_form(request, form, heading=heading, submit="Keep the list", back=reverse("billing:prices"))


@require_GET
def rates(request: StaffRequest, kind: str) -> HttpResponse:
    found = get_kind_or_404(request, kind)
    add = reverse(f"billing:{found.new}")
    may_change = request.user.may(found.change)
    return render_list(
        request,
        table_class=found.table,
        filterset=found.filterset(request.GET, queryset=_rows(found)),
        heading=found.heading,
        context={"kicker": "Settings"},
        new=(f"New {found.one}", add) if may_change else None,
        empty=(f"No {found.one} yet", found.text, f"New {found.one}", add if may_change else ""),
    )


def _rows(kind: RateKind) -> QuerySet[Any]:
    rows: QuerySet[Any] = kind.model._default_manager.all()
    return rows.select_related("person", "price_list") if kind.model is PersonTerms else rows


@require_http_methods(["GET", "POST"])
def rate_new(request: StaffRequest, kind: str) -> HttpResponse:
    found = get_kind_or_404(request, kind, to_change=True)
    start = {
        "price_list": request.GET.get("list") or (default_price_list() if kind == "prices" else None),
        "person": request.GET.get("person"),
    }
    form = found.form(request.POST or None, initial=start, currency=_currency(request), today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            rate = form.save(commit=False)
            record_rate(rate=rate, breaks=form.breaks, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, f"Recorded from {rate.since:%-d %b %Y}.")
            return redirect(_back(kind, rate))
    return _rate_page(request, kind, found, form, heading=f"New {found.one}")


@require_http_methods(["GET", "POST"])
def rate_edit(request: StaffRequest, kind: str, pk: int) -> HttpResponse:
    found = get_kind_or_404(request, kind, to_change=True)
    rate = get_object_or_404(found.model, pk=pk)
    form = found.form(request.POST or None, instance=rate, currency=_currency(request), today=timezone.localdate())
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            rate = form.save(commit=False)
            change_rate(rate=rate, breaks=form.breaks, at=timezone.now(), by=request.user)
        if not form.errors:
            messages.success(request, "Changed.")
            return redirect(_back(kind, rate))
    passed = form.initial["since"] < timezone.localdate()
    return _rate_page(request, kind, found, form, heading=f"Change this {found.one}", rate=rate, passed=passed)


@require_POST
def rate_take_back(request: StaffRequest, kind: str, pk: int) -> HttpResponse:
    found = get_kind_or_404(request, kind, to_change=True)
    rate: Any = get_object_or_404(found.model, pk=pk)
    back = _back(kind, rate)
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
        back=_back(name, context.get("rate")),
        kicker=kind.heading,
        intro=kind.text,
        template="billing/prices/rate.html",
        context={"kind": name, **context},
    )


def _back(kind: str, rate: Any) -> str:
    if kind == "prices":
        return str(rate.price_list.get_absolute_url()) if rate else reverse("billing:prices")
    return reverse(f"billing:{kind}")


def _currency(request: HttpRequest) -> str:
    return str(request.business.currency)  # type: ignore[attr-defined]
