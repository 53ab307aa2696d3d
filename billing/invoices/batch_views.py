from datetime import date, timedelta

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.ui.forms import Form
from billing.invoices.batch import start_run
from billing.invoices.models import Invoice, InvoiceRun
from billing.invoices.papers_together import as_one_pdf, as_zip
from billing.invoices.queries import issued_in, to_be_mailed
from clients.people.models import Person

LOOKS_AGAIN = 2
CUT_OFF = timedelta(minutes=1)
MOST = 2000


@require_POST
@needs(Power.CHANGE_MONEY)
def run_start(request: StaffRequest) -> HttpResponse:
    started = start_run(on=timezone.localdate(), at=timezone.now(), by=request.user)
    return redirect("billing:invoice-run", started.pk)


@require_GET
@needs(Power.SEE_MONEY)
def run(request: StaffRequest, pk: int) -> HttpResponse:
    """How far it is; the page looks again by itself until it is through."""
    found = get_object_or_404(InvoiceRun, pk=pk)
    is_cut_off = found.ended_at is None and timezone.now() - found.seen_at > CUT_OFF
    issued = list(issued_in(found))
    context = {
        "run": found,
        "is_cut_off": is_cut_off,
        "invoices": issued,
        "to_mail": len(to_be_mailed(issued)),
        "drafts": Invoice.objects.filter(state=Invoice.State.DRAFT).count(),
    }
    answer = render(request, "billing/invoices/run.html", context)
    if found.ended_at is None and not is_cut_off:
        answer["Refresh"] = str(LOOKS_AGAIN)
    return answer


class PapersForm(Form):
    """Which papers: of whom, issued from when to when, and together as what."""

    payer = forms.ModelChoiceField(queryset=Person.objects.none(), required=False, empty_label="Everybody")
    since = forms.DateField(label="Issued from")
    until = forms.DateField(label="to")
    kind = forms.ChoiceField(label="As", choices=[("pdf", "one PDF to print"), ("zip", "a ZIP of all")])

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)
        billed = Person.objects.filter(invoices__number__isnull=False).distinct()
        self.fields["payer"].queryset = billed.order_by("name", "pk")  # type: ignore[attr-defined]


@require_GET
@needs(Power.SEE_MONEY)
def papers(request: StaffRequest) -> HttpResponse:
    """The invoices of a time, of one payer or of all, together."""
    today = timezone.localdate()
    first = (today.replace(day=1) - timedelta(days=1)).replace(day=1)
    form = PapersForm(request.GET if "since" in request.GET else None, initial={"since": first, "until": today})
    if form.is_bound and form.is_valid():
        said = form.cleaned_data
        invoices = _issued(said["payer"], said["since"], said["until"])
        if len(invoices) > MOST:
            form.add_error("since", f"More than {MOST} invoices. Choose fewer days.")
        elif not invoices:
            messages.info(request, "No invoice was issued on these days.")
        else:
            return _file(invoices, said["kind"])
    return render(request, "billing/invoices/papers.html", {"form": form}, status=422 if form.errors else 200)


def _issued(payer: Person | None, since: date, until: date) -> list[Invoice]:
    issued = Invoice.objects.exclude(document=None).filter(issued_on__range=(since, until))
    rows = issued.filter(payer=payer) if payer else issued
    return list(rows.select_related("payer", "document").order_by("number")[: MOST + 1])


def _file(invoices: list[Invoice], kind: str) -> HttpResponse:
    content, mime = (
        (as_zip(invoices), "application/zip") if kind == "zip" else (as_one_pdf(invoices), "application/pdf")
    )
    answer = HttpResponse(content, content_type=mime)
    answer["Content-Disposition"] = f'attachment; filename="invoices-{timezone.localdate().isoformat()}.{kind}"'
    answer["Cache-Control"] = "no-store"
    return answer
