"""What is finished with is noted each night, so that the pages of a day need not read ten years.

Without it every page is right, only slower. What opens something again takes the note back by itself.
"""

from datetime import datetime, timedelta

from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from billing.invoices.models import ChargeShare, Invoice
from billing.invoices.queries import invoices_shown, uncharged_visits
from billing.journal.models import LookedThrough
from clients.visits.models import Visit
from clients.visits.queries import uncompleted_visits

ON_PAPER = (Invoice.State.ISSUED, Invoice.State.CREDITED)


@audit.action
def look_through(*, at: datetime) -> LookedThrough:
    """Note the invoices with nothing open, the shares on issued paper, and the last day before which no work waits."""
    settled = invoices_shown(local_date(at)).filter(is_settled=False, state=Invoice.State.ISSUED, open=0)
    Invoice.objects.filter(pk__in=settled.order_by().values("pk")).update(is_settled=True)
    on_paper = ChargeShare.objects.filter(is_on_paper=False, line__invoice__state__in=ON_PAPER)
    ChargeShare.objects.filter(pk__in=on_paper.order_by().values("pk")).update(is_on_paper=True)
    today = local_date(at)
    waiting = [day for day, _, _ in uncharged_visits(Visit.objects.all())]
    unwritten = uncompleted_visits(today).order_by("day").values_list("day", flat=True)[:1]
    day = min([today, *waiting, *unwritten]) - timedelta(days=1)
    return LookedThrough.objects.update_or_create(pk=1, defaults={"day": day, "at": at})[0]
