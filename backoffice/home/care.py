"""What needs attention on the care side: permission, paper, plans, visits to write up, machines."""

from datetime import date, timedelta

from django.urls import reverse
from django.utils.text import Truncator

from backoffice.business.queries import the_business
from backoffice.home.blocks import Block, Row, plural
from backoffice.home.queries import Outlook, lean, lean_entries, lean_plans, outlook, plans_proposed, rule_books_unread
from backoffice.ui.words import clock, local
from clients.barnside.queries import open_entries
from clients.kit.queries import hires_due_back, machines_due
from clients.paperwork.models import Form, VetReferral
from clients.paperwork.own_queries import own_papers_to_renew
from clients.paperwork.permission import Permission, Result
from clients.paperwork.queries import is_quiet, lapsing_before, open_stop_notes, waiting_for_the_vet
from clients.plans.queries import plans_to_review
from clients.visits.calls import to_call_soon
from clients.visits.messages import coming_messages, names_of
from clients.visits.models import Visit
from clients.visits.queries import uncompleted_visits, visits_on

COMING_DAYS = 7
NOTICE_DAYS = 14


def not_ready(on: date, ahead: Outlook | None = None) -> Block:
    """Horses in the diary of the coming week that permission to work does not call ready, holds first."""
    ahead = ahead or outlook(on, COMING_DAYS)
    found = [(visit, ahead.permissions[visit.pk]) for visit in ahead.coming]
    found = [pair for pair in found if not pair[1].is_ready]
    found.sort(key=lambda pair: pair[1].result != Result.HOLD)
    once_a_horse: dict[int, tuple[Visit, Permission]] = {}
    for visit, permission in found:
        once_a_horse.setdefault(visit.animal_id, (visit, permission))
    rows = tuple(_not_ready_row(*pair) for pair in once_a_horse.values())
    return Block("not-ready", "Coming, not ready", rows, most=5)


def _not_ready_row(visit: Visit, permission: Permission) -> Row:
    reasons = permission.reasons
    more = f" And {plural(len(reasons) - 1, 'more reason')}." if len(reasons) > 1 else ""
    return Row(
        name=visit.animal.name,
        href=visit.animal.get_absolute_url(),
        sentence=f"{reasons[0].sentence}{more}",
        word=permission.result.label,
        tone=permission.result,
        day=visit.day,
    )


def unwritten(on: date) -> Block:
    rows = tuple(
        Row(
            name=visit.animal.name,
            href=visit.get_absolute_url(),
            sentence=f"{clock(visit.starts)} at {visit.barn}",
            day=visit.day,
        )
        for visit in lean(uncompleted_visits(on)).order_by("day", "starts", "pk")
    )
    return Block("unwritten", "Not written up", rows)


def stopped(on: date) -> Block:
    """Horses that work was stopped on for the vet, and nobody has closed it."""
    rows = tuple(
        Row(
            name=note.animal.name,
            href=note.animal.get_absolute_url(),
            sentence=Truncator(note.seen).chars(90),
            word="Hold",
            tone="hold",
            day=local(note.opened_at),
        )
        for note in open_stop_notes().order_by("opened_at")
    )
    return Block("stopped", "Stopped for the vet", rows)


def _asked_when(referral: VetReferral, on: date) -> str:
    reminded = f", reminded {plural((on - referral.reminded_on).days, 'day')} ago" if referral.reminded_on else ""
    return f"{referral.practice}, asked {plural((on - referral.asked_on).days, 'day')} ago{reminded}"


def waiting_for_vet(on: date) -> Block:
    waiting = list(waiting_for_the_vet())
    to_remind = {referral.pk for referral in waiting if is_quiet(referral, on)}
    rows = tuple(
        Row(
            name=referral.animal.name,
            href=referral.get_absolute_url(),
            sentence=_asked_when(referral, on),
            word="Remind" if referral.pk in to_remind else "",
            tone="ask",
            day=referral.asked_on,
        )
        for referral in waiting
    )
    return Block("vet", "Waiting for the vet", rows, all_href=reverse("clients:paperwork"))


def lapsing(on: date) -> Block:
    forms = lapsing_before(on + timedelta(days=NOTICE_DAYS + 1), on=on)
    return Block("lapsing", "Ends soon", tuple(map(_form_row, forms)), all_href=reverse("clients:paperwork"))


def _form_row(form: Form) -> Row:
    about = form.animal or form.barn or form.signer
    kind = form.wording_version.wording.get_kind_display()
    signer = "" if about == form.signer else f", signed by {form.signer}"
    return Row(name=str(about), href=form.get_absolute_url(), sentence=f"{kind}{signer}", day=form.valid_until)


def own_papers(on: date) -> Block:
    """Papers of the practice that have ended, or end within its days of notice, without a renewal."""
    papers = own_papers_to_renew(on + timedelta(days=the_business().own_paper_notice_days), on=on)
    rows = tuple(
        Row(
            name=paper.title,
            href=paper.get_absolute_url(),
            sentence=paper.issuer,
            word="Ended" if paper.ends < on else "",
            tone="hold",
            day=paper.ends,
        )
        for paper in papers
    )
    return Block("own-papers", "Your own papers", rows, all_href=reverse("clients:own-papers"))


def plans_waiting(on: date) -> Block:
    rows = tuple(
        Row(name=plan.animal.name, href=plan.get_absolute_url(), sentence=plan.title, day=plan.start)
        for plan in plans_proposed()
    )
    return Block("plans", "Plans waiting for papers", rows)


def reviews(on: date) -> Block:
    rows = tuple(
        Row(name=plan.animal.name, href=plan.get_absolute_url(), sentence=plan.title, day=plan.review_on)
        for plan in lean_plans(plans_to_review(on))
    )
    return Block("reviews", "Plans to review", rows)


def machines(on: date) -> Block:
    until = on + timedelta(days=NOTICE_DAYS)
    back = [
        Row(
            name=hire.machine.name,
            href=hire.machine.get_absolute_url(),
            sentence=f"Back from {hire.person}",
            word="Overdue" if hire.until < on else "",
            tone="hold",
            day=hire.until,
        )
        for hire in hires_due_back(until)
    ]
    inspections = [
        Row(
            name=machine.name,
            href=machine.get_absolute_url(),
            sentence="Inspection",
            word="Overdue" if machine.inspection_due and machine.inspection_due < on else "",
            tone="hold",
            day=machine.inspection_due,
        )
        for machine in machines_due(until)
    ]
    rows = sorted([*back, *inspections], key=lambda row: row.day or on)
    return Block("machines", "Machines due", tuple(rows), all_href=reverse("clients:machines"))


def rule_books(on: date) -> Block:
    rows = tuple(
        Row(
            name=animal.name,
            href=animal.get_absolute_url(),
            day=animal.event_on,
        )
        for animal in rule_books_unread(on, NOTICE_DAYS)
    )
    return Block("rule-books", "Event ahead, rule book not read", rows, sentence="The show's own rule book decides.")


def to_call(on: date) -> Block:
    rows = tuple(
        Row(
            name=visit.animal.name,
            href=visit.animal.get_absolute_url(),
            sentence=visit.call_list_reason,
            day=visit.day,
        )
        for visit in lean(to_call_soon(on))
    )
    sentence = "No date ahead; seen last on the day named."
    return Block("call-list", "Call list", rows, sentence=sentence, all_href=reverse("clients:calls"))


def to_tell(on: date) -> Block:
    """Who has not been told yet that we come tomorrow, and what to prepare."""
    tomorrow = on + timedelta(days=1)
    page = reverse("clients:tell", args=[tomorrow.isoformat()])
    rows = tuple(
        Row(name=str(draft.person), href=page, sentence=names_of(draft.visits))
        for draft in coming_messages(list(lean(visits_on(tomorrow))), tomorrow, the_business())
        if not draft.is_told
    )
    return Block("to-tell", "Coming tomorrow, not told yet", rows, all_href=page)


def from_the_barn(on: date) -> Block:
    """What was written in the barn and could not be taken as it is."""
    page = reverse("clients:barn-decisions")
    rows = tuple(
        Row(name=str(entry.visit or "An entry"), href=f"{page}#entry-{entry.pk}", sentence=entry.why)
        for entry in lean_entries(open_entries())
    )
    return Block("from-barn", "From the barn: needs a decision", rows, is_pressing=True, all_href=page)
