from datetime import datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import render_pdf
from backoffice.refusal import Refused
from clients.plans.cadence import say_date
from clients.visits.actions.booking import lock_visit
from clients.visits.models import Visit
from clients.visits.queries import coming_visits, visit_with_sessions


def write_visit_report(*, visit: Visit, at: datetime, by: User | None, anew: bool = False) -> Document:
    """Draw the report of a completed visit as a PDF and keep it. The drawing is done before anything is locked.

    `anew` after the session was amended: the report before stays in the house, the visit shows the new one.
    """
    whole = visit_with_sessions(visit.pk)
    if whole is None or whole.status != Visit.Status.COMPLETED:
        raise Refused("Only a completed visit has a report.")
    content = render_pdf(
        "documents/visit_report.html",
        {"visit": whole, "next": coming_visits(whole.animal, whole.day).exclude(pk=whole.pk).first()},
    )
    return _keep_report(visit, content, at=at, by=by, anew=anew)


@audit.action
def _keep_report(visit: Visit, content: bytes, *, at: datetime, by: User | None, anew: bool) -> Document:
    visit = lock_visit(visit)
    if visit.report_id is not None and not anew:
        raise Refused("This visit has its report already.")
    if visit.report is not None:
        visit.earlier_reports.add(visit.report)
    visit.report = store_document(
        kind=Document.Kind.VISIT_REPORT,
        title=f"Visit report {visit.animal} {say_date(visit.day)}",
        content=content,
        at=at,
        by=by,
    )
    visit.save(update_fields=["report"])
    return visit.report
