"""Many drafts issued beside the request, one after another, each for itself: what fails holds up none after it."""

from collections.abc import Callable
from datetime import date, datetime

from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.render import prepare_renderer
from backoffice.later.actions import later
from backoffice.refusal import Refused
from billing.invoices.actions import issue_invoice
from billing.invoices.models import Invoice, InvoiceRun

Clock = Callable[[], datetime]


@audit.action
def start_run(*, on: date, at: datetime, by: User) -> InvoiceRun:
    """Issue every draft that there is. A run that was cut off is closed; what it had not issued is in this one."""
    InvoiceRun.objects.filter(ended_at=None).update(ended_at=at)
    drafts = Invoice.objects.filter(state=Invoice.State.DRAFT).count()
    if not drafts:
        raise Refused("There is no draft to issue.")
    run = InvoiceRun.objects.create(on=on, total=drafts, started_at=at, started_by=by, seen_at=at)
    audit.record("invoice run started", run, at=at, by=by, changes={"drafts": drafts})
    later(carry_out, run.pk)
    return run


def carry_out(pk: int, *, clock: Clock = timezone.now) -> None:
    """Each draft in a transaction of its own, the oldest first: a process that ends leaves no half invoice behind."""
    run = InvoiceRun.objects.select_related("started_by").get(pk=pk)
    prepare_renderer()
    drafts = Invoice.objects.filter(state=Invoice.State.DRAFT, made_at__lte=run.started_at).order_by(
        "payer__name", "pk"
    )
    try:
        for draft in list(drafts.values_list("pk", flat=True)):
            _issue(run, draft, clock())
    finally:
        run.ended_at = run.seen_at = clock()
        run.save(update_fields=["ended_at", "seen_at"])


def _issue(run: InvoiceRun, pk: int, at: datetime) -> None:
    draft = Invoice.objects.filter(pk=pk, state=Invoice.State.DRAFT).select_related("payer").first()
    if draft is None:
        return
    try:
        issue_invoice(invoice=draft, on=run.on, at=at, by=run.started_by)
    except Refused as refused:
        run.refused = [*run.refused, {"draft": pk, "payer": str(draft.payer), "why": refused.sentence}]
    else:
        run.issued += 1
    run.seen_at = at
    run.save(update_fields=["issued", "refused", "seen_at"])
