"""The practice's own papers as they stand on a day."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Q, QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from clients.paperwork import facts
from clients.paperwork.own_models import OwnPaper


def own_papers() -> QuerySet[OwnPaper]:
    return OwnPaper.objects.select_related("holder")


def _written_rightly() -> QuerySet[OwnPaper]:
    """Without mistakes, and without the papers of those who no longer sign in."""
    return own_papers().filter(Q(holder__isnull=True) | Q(holder__is_active=True), is_mistake=False)


def own_papers_to_count() -> list[facts.OwnPaper]:
    """All that permission to work may look at; which of them speak on a day is its own rule."""
    return [
        facts.OwnPaper(
            pk=paper.pk,
            kind=paper.kind,
            name=str(paper),
            since=paper.since,
            until=paper.ends,
            number=paper.number,
            holder=paper.holder_id,
            holder_name=str(paper.holder or ""),
            uses_machine=paper.uses_machine,
            place=paper.place,
            follows=paper.follows_id,
            dropped_on=paper.dropped_on,
        )
        for paper in _written_rightly()
    ]


def own_papers_to_renew(by: date, *, on: date) -> list[OwnPaper]:
    """Those that have ended, or end by that day, and are not carried on by a renewal; the first to end first."""
    papers = list(_written_rightly())
    renewals = {paper.follows_id: paper for paper in papers}
    needed = [paper for paper in papers if paper.dropped_on is None and paper.ends <= by]
    open_ones = [paper for paper in needed if not _is_carried_on(paper, renewals.get(paper.pk), on)]
    return sorted(open_ones, key=lambda paper: (paper.ends, paper.pk))


def _is_carried_on(paper: OwnPaper, renewal: OwnPaper | None, on: date) -> bool:
    return renewal is not None and renewal.since <= max(on, paper.ends + timedelta(days=1))


@dataclass(frozen=True, slots=True)
class Standing:
    """A paper with the word for it on a day; `tone` is one of the chip's."""

    paper: OwnPaper
    word: str
    tone: str


def standing_on(on: date, *, notice_days: int) -> tuple[list[Standing], list[Standing]]:
    """The papers that count or are to come, and those that are over and done with."""
    papers = list(own_papers())
    to_renew = {paper.pk for paper in own_papers_to_renew(on + timedelta(days=notice_days), on=on)}
    begun = _renewed(papers, on)
    now: list[Standing] = []
    past: list[Standing] = []
    for paper in papers:
        if paper.dropped_on is not None:
            past.append(Standing(paper, "Written down wrongly" if paper.is_mistake else "Not needed", "plain"))
        elif paper.pk in begun:
            past.append(Standing(paper, "Renewed", "plain"))
        else:
            now.append(_standing(paper, on, soon=paper.pk in to_renew))
    return sorted(now, key=lambda one: one.paper.ends), sorted(past, key=lambda one: one.paper.ends, reverse=True)


def _renewed(papers: Iterable[OwnPaper], on: date) -> set[int | None]:
    return {paper.follows_id for paper in papers if paper.since <= on and not paper.is_mistake}


def _standing(paper: OwnPaper, on: date, *, soon: bool) -> Standing:
    if paper.ends < on:
        return Standing(paper, "Ended", "hold")
    if paper.since > on:
        return Standing(paper, "Begins later", "info")
    return Standing(paper, "Ends soon", "ask") if soon else Standing(paper, "In force", "ready")


def get_own_paper_or_404(request: HttpRequest, pk: int) -> OwnPaper:
    demand(request, Power.CHANGE_SETTINGS)
    return get_object_or_404(own_papers().select_related("follows__holder"), pk=pk)
