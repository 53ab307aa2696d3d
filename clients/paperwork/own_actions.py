"""The practice's own papers: written down, renewed, ended before their day, or no longer needed."""

from collections.abc import Sequence
from datetime import date, datetime
from typing import TypedDict, Unpack

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.actions import store_given
from backoffice.documents.models import Document
from backoffice.documents.uploads import Given
from backoffice.refusal import Refused
from clients.animals.actions import say_day, today_of
from clients.paperwork.own_models import OwnPaper


class OnIt(TypedDict):
    """What stands on the paper."""

    issuer: str
    number: str
    since: date
    until: date


@audit.action
def add_own_paper(
    *,
    kind: str,
    holder: User | None,
    uses_machine: bool | None,
    place: str,
    scan: Sequence[Given] = (),
    at: datetime,
    by: User,
    **on_it: Unpack[OnIt],
) -> OwnPaper:
    if kind == OwnPaper.Kind.VEHICLE and (uses_machine is not None or place.strip()):
        raise Refused("A vehicle's paper counts for every visit: leave kind of work and place open.")
    paper = OwnPaper(kind=kind, holder=holder, uses_machine=uses_machine, place=place.strip(), **on_it)
    return _keep(paper, scan, at=at, by=by)


@audit.action
def renew_own_paper(
    *, paper: OwnPaper, scan: Sequence[Given] = (), at: datetime, by: User, **on_it: Unpack[OnIt]
) -> OwnPaper:
    """The paper that follows this one, for the same holder, work and place. This one stays as it was."""
    paper = _locked(paper)
    _refuse_unless_needed(paper)
    _refuse_renewed(paper)
    if on_it["since"] <= paper.since:
        raise Refused(f"A renewal begins after {say_day(paper.since)}, the first day of the paper that it follows.")
    renewal = OwnPaper(
        kind=paper.kind,
        holder=paper.holder,
        uses_machine=paper.uses_machine,
        place=paper.place,
        follows=paper,
        **on_it,
    )
    return _keep(renewal, scan, at=at, by=by)


def _keep(paper: OwnPaper, scan: Sequence[Given], *, at: datetime, by: User) -> OwnPaper:
    if not paper.issuer.strip():
        raise Refused("Write who issued it.")
    if paper.until < paper.since:
        raise Refused("The last day is before the first.")
    if paper.until < today_of(at):
        raise Refused("The last day is already past. Write down the paper that came after it.")
    paper.issuer, paper.number = paper.issuer.strip(), paper.number.strip()
    paper.save(force_insert=True)
    paper.scans.set(store_given(kind=Document.Kind.OWN_PAPER, title=str(paper), given=scan, at=at, by=by))
    changes: dict[str, object] = {"kind": paper.kind, "holder": paper.holder, "follows": paper.follows}
    changes |= {"since": paper.since, "until": paper.until, "given": [one.given_sha256 for one in scan]}
    audit.record("own paper written down", paper, at=at, by=by, changes=changes)
    return paper


@audit.action
def end_own_paper(*, paper: OwnPaper, last_day: date, why: str, at: datetime, by: User) -> OwnPaper:
    """It was cancelled or taken away: its last day is an earlier one than the paper says."""
    paper = _locked(paper)
    _refuse_unless_needed(paper)
    if paper.ends < today_of(at):
        raise Refused(f"This paper already ended on {say_day(paper.ends)}.")
    if paper.ended_on is not None:
        raise Refused(f"It is already written down that this paper ends on {say_day(paper.ended_on)}.")
    if not paper.since <= last_day < paper.until:
        days = f"{say_day(paper.since)}, its first day, and before {say_day(paper.until)}, its last"
        raise Refused(f"Name a day from {days}.")
    paper.ended_on, paper.ended_why = last_day, _reason(why)
    paper.save(update_fields=["ended_on", "ended_why"])
    audit.record("own paper ended early", paper, at=at, by=by, changes={"until": [paper.until, last_day]})
    return paper


@audit.action
def drop_own_paper(*, paper: OwnPaper, is_mistake: bool, why: str, at: datetime, by: User) -> OwnPaper:
    """From today on nobody is asked for it: it is not needed any more, or was never right. It stays readable."""
    paper = _locked(paper)
    _refuse_unless_needed(paper)
    _refuse_renewed(paper)
    paper.dropped_on, paper.is_mistake, paper.dropped_why = today_of(at), is_mistake, _reason(why)
    paper.save(update_fields=["dropped_on", "is_mistake", "dropped_why"])
    audit.record("own paper put away", paper, at=at, by=by, changes={"mistake": is_mistake})
    return paper


def _locked(paper: OwnPaper) -> OwnPaper:
    return OwnPaper.objects.select_for_update(of=("self",)).select_related("holder").get(pk=paper.pk)


def _refuse_unless_needed(paper: OwnPaper) -> None:
    if paper.dropped_on is not None:
        raise Refused(f"This paper was put away on {say_day(paper.dropped_on)}. Write down a new one.")


def _refuse_renewed(paper: OwnPaper) -> None:
    if paper.renewals.filter(is_mistake=False).exists():
        raise Refused("This paper is already renewed: go on with the newer one.")


def _reason(why: str) -> str:
    if not why.strip():
        raise Refused("Write why, in a few words.")
    return why.strip()
