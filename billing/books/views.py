import csv
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from functools import partial
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.business.models import Business
from backoffice.ui.bars import picture
from backoffice.ui.forms import render_form, showing_refusal
from backoffice.ui.lists import render_list
from backoffice.ui.table_files import EXPORTS, table_file
from backoffice.ui.tables import plain_cell
from backoffice.ui.words import money
from billing.books.actions import end_month, take_back_expense, write_expense
from billing.books.forms import ExpenseForm, TaxPeriodForm, YearForm
from billing.books.models import Expense
from billing.books.queries import (
    BY_INVOICE,
    BY_PAYMENT,
    RECEIVED,
    TaxPeriod,
    YearReport,
    closed_months,
    month_end,
    tax_period,
    year_report,
)
from billing.books.tables import ExpenseFilter, ExpenseTable
from billing.journal.ledger import COLUMNS, beancount, rows
from billing.journal.queries import events_between, first_of_next, open_from
from billing.money.rounding import round_money


@require_GET
@needs(Power.SEE_MONEY)
def month(request: StaffRequest) -> HttpResponse:
    """What is still open about a month; the last that is over unless another is asked for."""
    today = timezone.localdate()
    first = _month(request.GET.get("month", ""), today)
    found = month_end(first, _business(request))
    context = {
        "month": found,
        "before": (first - timedelta(days=1)).replace(day=1),
        "after": first_of_next(first) if first_of_next(first) <= today else None,
        "is_over": found.last < today,
        "opened": open_from(),
        "closed": closed_months(),
        "may_change": request.user.may(Power.CHANGE_MONEY),
    }
    return render(request, "billing/books/month.html", context)


def _month(text: str, today: date) -> date:
    """`2026-03` → its first day."""
    if not text:
        return (today.replace(day=1) - timedelta(days=1)).replace(day=1)
    try:
        return date.fromisoformat(f"{text}-01")
    except ValueError:
        raise Http404(text) from None


@require_POST
@needs(Power.CHANGE_MONEY)
def month_close(request: StaffRequest, day: str) -> HttpResponse:
    today = timezone.localdate()
    closed = end_month(month=_month(day[:7], today), today=today, at=timezone.now(), by=request.user)
    messages.success(request, f"{closed} is closed. Corrections land in the open month.")
    return redirect(f"{reverse('billing:month-end')}?month={closed.first_day:%Y-%m}")


@require_GET
@needs(Power.SEE_MONEY)
def tax(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    start: dict[str, Any] = {
        "since": date(today.year, 3 * ((today.month - 1) // 3) + 1, 1),
        "until": today,
        "basis": BY_INVOICE,
    }
    form = TaxPeriodForm(request.GET if "since" in request.GET else start)
    said = form.cleaned_data if form.is_valid() else start
    period = tax_period(said["since"], said["until"], said["basis"], _currency(request))
    if request.GET.get("export") in EXPORTS:
        cells = [(line.words, line.base, line.tax) for line in period.lines]
        return _file(request, "tax", ("Category", "Before tax", "Tax"), cells)
    amounts = [(f"{line.words}, {what}", amount) for line in period.lines for what, amount in line.amounts]
    context = {
        "form": form,
        "period": period,
        "exports": EXPORTS,
        "papers": _papers(period),
        "picture": picture("Before tax, and tax", amounts, partial(money, business=_business(request))),
    }
    return render(request, "billing/books/tax.html", context)


@require_GET
@needs(Power.SEE_MONEY)
def year(request: StaffRequest) -> HttpResponse:
    today = timezone.localdate()
    start: dict[str, Any] = {"since": date(today.year, 1, 1), "until": today, "basis": RECEIVED}
    form = YearForm(request.GET if "since" in request.GET else start)
    said = form.cleaned_data if form.is_valid() else start
    report = year_report(said["since"], said["until"], said["basis"], _currency(request))
    if request.GET.get("export") in EXPORTS:
        cells = [("Income", line.words, line.amount) for line in report.income]
        cells += [("Cost", line.words, line.amount) for line in report.costs]
        return _file(request, "year", ("", "What", "Amount"), cells)
    amounts = [(line.words, line.amount) for line in report.income] + [
        (line.words, -line.amount) for line in report.costs
    ]
    context = {
        "form": form,
        "report": report,
        "exports": EXPORTS,
        "papers": _papers(report),
        "picture": picture("Income, and costs below zero", amounts, partial(money, business=_business(request))),
    }
    return render(request, "billing/books/year.html", context)


def _papers(found: TaxPeriod | YearReport) -> str:
    """The list that the figures of these days are made of: payments as received, invoices as earned or dated."""
    if found.basis in {RECEIVED, BY_PAYMENT}:
        return f"{reverse('billing:payments')}?received_from={found.since}&received_to={found.until}"
    return f"{reverse('billing:invoices')}?issued_from={found.since}&issued_to={found.until}"


def _file(request: StaffRequest, name: str, heading: Sequence[str], cells: Iterable[Sequence[Any]]) -> HttpResponse:
    currency = _currency(request)
    rows = [[cell if isinstance(cell, str) else round_money(cell, currency) for cell in row] for row in cells]
    return table_file(f"{name}-{timezone.localdate().isoformat()}", request.GET["export"], heading, rows)


class _Echo:
    """A file that gives back what is written to it, so that a table streams."""

    def write(self, value: str) -> str:
        return value


@require_GET
@needs(Power.SEE_MONEY)
def ledger(request: StaffRequest) -> HttpResponse:
    """The whole journal, for an accountant's program: beancount text, or CSV."""
    business = _business(request)
    events = events_between(None, None, business.currency)
    if request.GET.get("format") == "csv":
        writer, kind = csv.writer(_Echo()), "csv"
        lines = (writer.writerow([plain_cell(cell) for cell in row]) for row in _headed(rows(events)))
    else:
        kind = "beancount"
        lines = (f"{line}\n" for line in beancount(events, title=business.name, currency=business.currency))
    answer = HttpResponse(lines, content_type="text/plain; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="books-{timezone.localdate().isoformat()}.{kind}"'
    answer["Cache-Control"] = "no-store"
    return answer


def _headed(found: Any) -> Any:
    yield COLUMNS
    yield from found


@require_GET
@needs(Power.SEE_MONEY)
def expenses(request: StaffRequest) -> HttpResponse:
    new = ("Write an expense", reverse("billing:expense-new"))
    return render_list(
        request,
        table_class=ExpenseTable,
        filterset=ExpenseFilter(request.GET, queryset=Expense.objects.filter(undone_on=None)),
        heading="Expenses",
        context={"kicker": "Money"},
        new=new if request.user.may(Power.CHANGE_MONEY) else None,
        empty=("No expense yet", "What you buy for the business, with a photo of the bill.", *new),
    )


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def expense_new(request: StaffRequest) -> HttpResponse:
    form = ExpenseForm(
        request.POST or None, request.FILES or None, today=timezone.localdate(), currency=_currency(request)
    )
    if request.method == "POST" and form.is_valid():
        with showing_refusal(form):
            photo = form.cleaned_data["photo"]
            written = write_expense(expense=form.instance, photo=photo, at=timezone.now(), by=request.user)
            messages.success(request, f"{written} is written down.")
            return redirect("billing:expenses")
    return render_form(
        request,
        form,
        heading="Write an expense",
        kicker="Money",
        submit="Write it down",
        back=reverse("billing:expenses"),
    )


@require_GET
@needs(Power.SEE_MONEY)
def expense(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Expense.objects.select_related("photo", "recorded_by"), pk=pk)
    may_change = request.user.may(Power.CHANGE_MONEY)
    return render(request, "billing/books/expense.html", {"expense": found, "may_change": may_change})


@require_POST
@needs(Power.CHANGE_MONEY)
def expense_take_back(request: StaffRequest, pk: int) -> HttpResponse:
    found = get_object_or_404(Expense, pk=pk)
    take_back_expense(expense=found, on=timezone.localdate(), at=timezone.now(), by=request.user)
    messages.success(request, f"{found} is taken back.")
    return redirect("billing:expenses")


def _business(request: StaffRequest) -> Business:
    business: Business = request.business  # type: ignore[attr-defined]
    return business


def _currency(request: StaffRequest) -> str:
    return _business(request).currency
