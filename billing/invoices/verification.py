"""What `verify` looks at among charges and invoices."""

from collections import Counter
from collections.abc import Iterator
from datetime import date

from django.db.models import F, Q

from backoffice.documents.models import Document
from billing.invoices.looking_through import ON_PAPER
from billing.invoices.models import Charge, ChargeShare, CreditLine, CreditNote, Invoice, InvoiceLine
from billing.invoices.queries import invoices_shown, uncharged_sessions
from billing.journal.models import LookedThrough
from billing.money.totals import totals
from billing.numbers.verification import faults_of_series
from billing.packages.sold import Use
from clients.visits.models import Visit

ISSUED = ~Q(state=Invoice.State.DRAFT)


def count_charges() -> str:
    return f"{Charge.objects.count()} charges with {ChargeShare.objects.count()} shares"


def count_invoices() -> str:
    return f"{Invoice.objects.filter(ISSUED).count()} issued invoices"


def count_credit_notes() -> str:
    return f"{CreditNote.objects.count()} credit notes"


def faults_of_numbers() -> Iterator[str]:
    numbers = Invoice.objects.filter(number__isnull=False).values_list("number", flat=True).order_by()
    yield from faults_of_series("invoice", [number for number in numbers if number is not None])


def faults_of_charges() -> Iterator[str]:
    """Sessions charged twice or never done, and charges whose shares do not add up to them."""
    of_sessions = Charge.objects.standing().filter(session__isnull=False).order_by()
    charged = Counter(of_sessions.values_list("session", flat=True))
    for session, times in sorted(charged.items(), key=lambda pair: str(pair[0])):
        if times > 1:
            yield f"session {session} is charged {times} times."
    paid_twice = Use.objects.filter(undone_at__isnull=True, session__in=of_sessions.values("session"))
    for use in paid_twice.order_by("pk"):
        yield f"session {use.session_id} is charged and used from a package."
    undone = Charge.objects.filter(kind=Charge.Kind.SESSION).exclude(session__visit__status=Visit.Status.COMPLETED)
    for charge in undone.order_by("pk"):
        yield f"charge {charge.pk} is for a session of a visit that is not completed."
    yield from _faults_of_shares()


def _faults_of_shares() -> Iterator[str]:
    parts = totals(ChargeShare.objects.values_list("charge", "amount").order_by().iterator())
    for charge in Charge.objects.order_by("pk").iterator():
        if charge.pk not in parts and charge.state == Charge.State.WAIVED:
            continue
        if parts[charge.pk] != charge.amount:
            yield f"charge {charge.pk} is {charge.amount:f}, its shares sum to {parts[charge.pk]:f}."


def count_looked_through() -> str:
    mark = LookedThrough.objects.first()
    settled = Invoice.objects.filter(is_settled=True).count()
    return f"{settled} settled invoices, {mark or 'no day looked through'}"


def faults_of_what_was_looked_through() -> Iterator[str]:
    """Something noted as finished with that is open: it would be shown nowhere."""
    mark = LookedThrough.objects.first()
    if mark is not None:
        before = Visit.objects.filter(day__lte=mark.day, completed_at__lte=mark.at)
        for session in uncharged_sessions(before).order_by("pk"):
            yield f"session {session.pk} waits to be charged, and its day was looked through."
    for invoice in invoices_shown(date.max).filter(is_settled=True, state=Invoice.State.ISSUED, open__gt=0):
        yield f"{invoice} is noted as settled, with {invoice.open:f} open."
    for share in ChargeShare.objects.filter(is_on_paper=True).exclude(line__invoice__state__in=ON_PAPER).order_by("pk"):
        yield f"share {share.pk} is noted as on paper, and is on none."


def faults_of_credit_numbers() -> Iterator[str]:
    yield from faults_of_series("credit_note", CreditNote.objects.values_list("number", flat=True).order_by())


def _faults_of_credit_notes() -> Iterator[str]:
    """Notes whose lines do not add up to them, and lines or invoices with more taken back than they asked for."""
    rows = list(CreditLine.objects.values_list("credit_note", "line", "amount", "net", "tax").order_by())
    sums = totals((note, net + tax) for note, _, _, net, tax in rows)
    notes = list(CreditNote.objects.select_related("invoice").order_by("pk"))
    for note in notes:
        if not sums[note.pk] == note.total == note.net + note.tax:
            yield f"credit note {note.name} is {note.total:f}, its lines sum to {sums[note.pk]:f}."
    taken = totals((line, amount) for _, line, amount, _, _ in rows)
    lines = InvoiceLine.objects.filter(pk__in=CreditLine.objects.order_by().values("line"))
    for line in lines.select_related("invoice").order_by("pk"):
        if taken[line.pk] > line.amount:
            yield f"invoice {line.invoice.name} has more taken back of line {line.position} than it asked for."
    whole = totals((note.invoice, note.total) for note in notes)
    for invoice, credited in whole.items():
        is_over, says_so = credited == invoice.total, invoice.state == Invoice.State.CREDITED
        if credited > invoice.total or is_over != says_so:
            yield f"invoice {invoice.name} is {invoice.total:f}, {credited:f} is credited, it says {invoice.state}."


def faults_of_invoices() -> Iterator[str]:
    """Issued invoices whose lines, tax and total disagree, that bill somebody else's share, or have no paper."""
    lines = totals(InvoiceLine.objects.values_list("invoice", "net").order_by().iterator())
    for invoice in Invoice.objects.filter(ISSUED, brought_as="").select_related("document").order_by("pk").iterator():
        if lines[invoice.pk] != invoice.net:
            yield f"invoice {invoice.name}: its lines sum to {lines[invoice.pk]:f}, it says {invoice.net:f}."
        if invoice.net + invoice.tax != invoice.total:
            yield f"invoice {invoice.name}: {invoice.net:f} and tax {invoice.tax:f} are not {invoice.total:f}."
        if invoice.document is None or invoice.document.kind != Document.Kind.INVOICE:
            yield f"invoice {invoice.name} has no document."
    yield from _faults_of_credit_notes()
    strangers = InvoiceLine.objects.exclude(charge_share__payer=F("invoice__payer"))
    for line in strangers.select_related("invoice").order_by("pk"):
        yield f"invoice {line.invoice.name} bills a share of somebody else (line {line.position})."
