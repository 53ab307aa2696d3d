"""The rules about the practice's own papers: license, insurance, vehicle, first aid. Pure.

A paper that is written down and has ended holds the work that it is for. Where nothing is written down nothing is
said: which papers a practice needs is for the law of its place and its insurer to say, and this software does not
know it, so a practice that keeps its papers elsewhere is not held up.
"""

from collections.abc import Iterable, Iterator
from datetime import date, timedelta

from clients.paperwork.facts import Facts, OwnPaper, Work
from clients.paperwork.reasons import Note, Reason, day_words, hold


def counting(papers: Iterable[OwnPaper], *, work: Work, place: str, on: date) -> tuple[OwnPaper, ...]:
    """The papers that speak of this work on this day: for it, still needed, and not renewed by one that has begun.

    A renewal that begins later stays beside the paper that it follows, so that the gap between them can be named.
    """
    papers = list(papers)
    renewed = {paper.follows for paper in papers if paper.since <= on}
    return tuple(
        paper
        for paper in papers
        if paper.pk not in renewed
        and (paper.dropped_on is None or paper.dropped_on > on)
        and _is_for(paper, work, place)
    )


def _is_for(paper: OwnPaper, work: Work, place: str) -> bool:
    """A place that is not known, or nobody named yet, counts as the paper's own: what is absent is never looser."""
    return (
        paper.uses_machine in (None, work.uses_machine)
        and (not paper.place or not place or paper.place.casefold() == place.casefold())
        and (paper.holder is None or work.practitioner in (None, paper.holder))
    )


def ended(facts: Facts) -> Iterator[Reason]:
    for paper in _over(facts):
        renewal = _renewal(facts, paper)
        later = f" Its renewal holds from {day_words(renewal.since)}." if renewal else ""
        yield hold(
            "own_paper_ended",
            f"{paper.name}: ended on {day_words(paper.until)}.{later}",
            "Its renewal, written down under Settings, Your own papers.",
            paper.holder_name or "The owner-manager",
        )


def _over(facts: Facts) -> list[OwnPaper]:
    """While nobody is named for the work, one person's paper is nothing as long as another's of the kind holds."""
    over = [paper for paper in facts.own_papers if paper.until < facts.on]
    behind = {(paper.kind, paper.holder) for paper in over}
    held_by_others = {
        paper.kind
        for paper in facts.own_papers
        if paper.holder is not None and paper.is_in_force(facts.on) and (paper.kind, paper.holder) not in behind
    }
    return [paper for paper in over if paper.holder is None or paper.kind not in held_by_others]


def ends_soon(facts: Facts) -> Iterator[Note]:
    for paper in facts.own_papers:
        is_near = paper.until - facts.on <= timedelta(days=facts.rules.own_paper_notice_days)
        renewal = _renewal(facts, paper)
        goes_on = renewal is not None and renewal.since <= paper.until + timedelta(days=1)
        if paper.is_in_force(facts.on) and is_near and not goes_on:
            yield Note("own_paper_ends_soon", f"{paper.name}: ends on {day_words(paper.until)}.")


def _renewal(facts: Facts, paper: OwnPaper) -> OwnPaper | None:
    return next((other for other in facts.own_papers if other.follows == paper.pk), None)
