from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.refusal import Refused
from backoffice.ui.forms import one_summary, render_form, showing_refusal
from backoffice.ui.lists import render_list
from billing.banking.actions import NeedsWord, book_line, keep_columns, put_aside, take_back_aside, take_in, tie_line
from billing.banking.columns import Columns, Sheet, read_columns
from billing.banking.forms import ASKS, AsideForm, DecideForm, PayerOfLineForm, UploadForm, usual_order
from billing.banking.lines import BadFile, Reading
from billing.banking.matching import Match, matches
from billing.banking.models import BankFile, BankLine, PendingFile
from billing.banking.queries import (
    columns_of,
    counts_of_lines,
    get_line_or_404,
    ledger_for,
    lines_waiting,
    matched,
    sure_lines,
)
from billing.banking.reading import read_file
from billing.banking.tables import BankLineFilter, BankLineTable
from billing.invoices.models import Invoice
from billing.invoices.queries import open_invoices
from billing.payments.queries import oldest_first
from clients.people.models import Person

PER_PAGE = 20
LATEST = 8


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def bank_file(request: StaffRequest) -> HttpResponse:
    """Lines of the bank that wait, each with what it may be; and the way to take a file in."""
    form = UploadForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        answer = _take(request, form)
        if answer is not None:
            return answer
    currency = _currency(request)
    page = Paginator(lines_waiting(), PER_PAGE).get_page(request.GET.get("page"))
    sure = sure_lines(currency)
    context = {
        "form": form,
        "page": page,
        "lines": [
            {"line": line, "matches": [(_key(match), match) for match in found]}
            for line, found in matched(page.object_list, currency)
        ],
        "sure": len(sure),
        "counts": counts_of_lines(),
        "files": BankFile.objects.all()[:LATEST],
    }
    status = 422 if form.is_bound and form.errors else 200
    return render(request, "billing/banking/bank_file.html", context, status=status)


def _take(request: StaffRequest, form: UploadForm) -> HttpResponse | None:
    """Take the file in, or lead to what has to be said first; None where the file cannot be read."""
    given = form.cleaned_data["file"]
    content = given.read()
    PendingFile.objects.filter(made_by=request.user).delete()
    try:
        read = read_file(content, usual_order(request.business))  # type: ignore[attr-defined]
        columns = columns_of(read) if isinstance(read, Sheet) else None
        if isinstance(read, Sheet) and columns:
            read = read_columns(read, columns)
    except BadFile as wrong:
        form.add_error("file", str(wrong))
        return None
    pending = PendingFile(name=given.name[:200], content=content, made_at=timezone.now(), made_by=request.user)
    asked = ""
    if isinstance(read, Reading):
        try:
            return _taken(request, read, pending)
        except Refused as refused:
            asked = _asked_by(refused)
            if not asked:
                form.add_error("file", refused.sentence)
                return None
            messages.warning(request, refused.sentence)
    pending.save()
    return redirect(reverse("billing:bank-decide", args=[pending.pk]) + (f"?asked={asked}" if asked else ""))


def _taken(request: StaffRequest, reading: Reading, pending: PendingFile, **said: bool) -> HttpResponse:
    file = take_in(
        reading=reading, content=bytes(pending.content), name=pending.name, at=timezone.now(), by=request.user, **said
    )
    known = f" {file.known} were in already." if file.known else ""
    messages.success(request, f"{file.added} line{'s' if file.added != 1 else ''} taken in.{known}")
    return redirect("billing:bank-file")


def _asked_by(refused: Refused) -> str:
    """Which tick would answer the refusal; an empty string where none would."""
    return refused.asks if isinstance(refused, NeedsWord) else ""


@require_http_methods(["GET", "POST"])
@needs(Power.CHANGE_MONEY)
def bank_decide(request: StaffRequest, pk: int) -> HttpResponse:
    """The columns of a table, or a word to an account or days that were not seen before."""
    pending = get_object_or_404(PendingFile, pk=pk, made_by=request.user)
    business = request.business  # type: ignore[attr-defined]
    read = read_file(bytes(pending.content), usual_order(business))
    kept = columns_of(read) if isinstance(read, Sheet) else None
    sheet = read if isinstance(read, Sheet) and kept is None else None
    asked = {request.GET.get("asked", "")} | set(request.POST)
    posted = request.POST if request.method == "POST" else None
    form = DecideForm(posted, sheet=sheet, business=business, asked=asked)
    if request.method == "POST" and form.is_valid():
        try:
            return _decided(request, form, read, kept, pending)
        except BadFile as wrong:
            form.add_error(None, str(wrong))
        except Refused as refused:
            form = DecideForm(posted, sheet=sheet, business=business, asked=asked | {_asked_by(refused)})
            form.add_error(None, refused.sentence)
    return render_form(
        request,
        form,
        heading="What this file says",
        kicker=pending.name,
        submit="Take it in",
        back=reverse("billing:bank-file"),
        template="billing/banking/decide.html",
        context={"sheet": sheet, "sample": form.sample if sheet else []},
    )


def _decided(request: StaffRequest, form: DecideForm, read: Any, kept: Any, pending: PendingFile) -> HttpResponse:
    said = {name: form.cleaned_data.get(name, False) for name in ASKS}
    reading = read_columns(read, kept or Columns(**form.columns)) if isinstance(read, Sheet) else read
    answer = _taken(request, reading, pending, **said)
    if isinstance(read, Sheet) and kept is None:
        keep_columns(sheet=read, columns=form.columns, at=timezone.now(), by=request.user)
    pending.delete()
    return answer


@require_POST
@needs(Power.CHANGE_MONEY)
def bank_book_sure(request: StaffRequest) -> HttpResponse:
    """Book every line whose reference and amount leave no doubt."""
    sure = sure_lines(_currency(request))
    for line, match in sure:
        _book(request, line, match)
    messages.success(request, f"{len(sure)} booked. Their receipts are ready.")
    return redirect("billing:bank-file")


@require_POST
def bank_book(request: StaffRequest, pk: int) -> HttpResponse:
    """Book one line as the proposal says that was shown."""
    line = get_line_or_404(request, pk)
    wanted = request.POST.get("match", "")
    found = matches(line.move, ledger_for([line], _currency(request)))
    match = next((each for each in found if _key(each) == wanted), None)
    if match is None:
        raise Refused("What is open has changed meanwhile. Look at this line again.")
    if match.known is not None:
        tie_line(line=line, match=match, at=timezone.now(), by=request.user)
        messages.success(request, f"{match.known.name} is seen at the bank.")
    else:
        _book(request, line, match)
        messages.success(request, "The payment is booked. Its receipt is ready.")
    return redirect("billing:bank-file")


def _book(request: StaffRequest, line: BankLine, match: Match) -> None:
    invoices = Invoice.objects.in_bulk([key for key, _ in match.parts])
    book_line(
        line=line,
        payer=Person.objects.get(pk=match.payer),
        allocations={invoices[key]: part for key, part in match.parts},
        at=timezone.now(),
        by=request.user,
    )


@require_http_methods(["GET", "POST"])
def bank_line(request: StaffRequest, pk: int) -> HttpResponse:
    """One line: whose it is, or what it is instead."""
    line = get_line_or_404(request, pk)
    payers = Person.objects.filter(erased_on=None).order_by("name", "pk")
    is_aside = "aside" in request.POST
    whose = PayerOfLineForm(request.POST if "whose" in request.POST else None, payers=payers)
    aside = AsideForm(request.POST if is_aside else None)
    asked = aside if is_aside else whose
    if request.method == "POST" and asked.is_valid():
        with showing_refusal(asked):
            if is_aside:
                put_aside(line=line, reason=aside.cleaned_data["reason"], at=timezone.now(), by=request.user)
                messages.success(request, "It is put aside.")
            else:
                _book_for(request, line, whose.cleaned_data["payer"])
                messages.success(request, "The payment is booked. Its receipt is ready.")
            return redirect("billing:bank-file")
    context = {"line": line, "whose": whose, "aside": aside, "summary": one_summary([("", whose), ("", aside)])}
    return render(request, "billing/banking/line.html", context, status=422 if asked.errors else 200)


def _book_for(request: StaffRequest, line: BankLine, payer: Person) -> None:
    owed = oldest_first(line.amount, list(open_invoices(payer, timezone.localdate())))
    book_line(line=line, payer=payer, allocations=owed, at=timezone.now(), by=request.user)


@require_POST
def bank_wait_again(request: StaffRequest, pk: int) -> HttpResponse:
    take_back_aside(line=get_line_or_404(request, pk), at=timezone.now(), by=request.user)
    return redirect("billing:bank-file")


@require_GET
@needs(Power.SEE_MONEY)
def bank_lines(request: StaffRequest) -> HttpResponse:
    rows = BankLine.objects.select_related("file", "payment__payer").order_by("-day", "-pk")
    return render_list(
        request,
        table_class=BankLineTable,
        filterset=BankLineFilter(request.GET, queryset=rows),
        heading="Lines of the bank",
        context={"kicker": "Money"},
        empty=("No file yet", "Take in a file from your bank.", "Bank file", reverse("billing:bank-file")),
    )


def _key(match: Match) -> str:
    if match.known is not None:
        return f"{match.known.kind}-{match.known.key}"
    return f"{match.payer}:" + ",".join(f"{key}={part.normalize():f}" for key, part in match.parts)


def _currency(request: StaffRequest) -> str:
    return str(request.business.currency)  # type: ignore[attr-defined]
