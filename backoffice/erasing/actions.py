from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from functools import partial
from typing import Any

from django.db import transaction
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.documents.actions import erase_document, store_document
from backoffice.documents.models import Document
from backoffice.documents.render import render_pdf
from backoffice.documents.seal import seal_pdf
from backoffice.erasing.collecting import in_the_way, verdicts_on
from backoffice.erasing.replaying import remember
from backoffice.keeping.kinds import BY_NAME, KINDS
from backoffice.keeping.models import Erasure, KeepRule
from backoffice.keeping.rules import Verdict
from backoffice.refusal import Refused
from clients.animals.actions import today_of
from clients.people.models import Person


@audit.action
def set_keep_rule(*, kind: str, years: int, why: str, since: date, at: datetime, by: User) -> KeepRule:
    """From that day on this kind is kept for so long. Earlier rules stay readable; nothing erased comes back."""
    if kind not in BY_NAME:
        raise Refused("There is no such kind of record.")
    if not why.strip():
        raise Refused("Write why: who told you, or where it is written.")
    if since < today_of(at):
        raise Refused("A rule holds from today or a later day, not from the past.")
    rule, _is_new = KeepRule.objects.update_or_create(
        kind=kind, since=since, defaults={"years": years, "why": why.strip()}
    )
    audit.record("keep rule set", rule, at=at, by=by, changes={"kind": kind, "years": years, "since": since})
    return rule


@audit.action
def erase_person(*, person: Person, asked: str, at: datetime, by: User | None) -> Erasure:
    """Empty what no rule keeps, leave a tombstone for each file, and seal a certificate that names what stays."""
    person = Person.objects.select_for_update().get(pk=person.pk)
    on = today_of(at)
    obstacles = in_the_way(person, on)
    if obstacles:
        raise Refused(obstacles[0])
    verdicts = verdicts_on(person, on)
    going = [verdict for verdict in verdicts if not verdict.stays]
    if not going:
        raise Refused("There is nothing to erase: all that is held is kept by a rule.")
    for verdict in going:
        verdict.held.empty()
        for document in verdict.held.documents:
            if Document.objects.filter(pk=document.pk, erased_at__isnull=True).exists():
                erase_document(document=document, rule=verdict.held.kind, at=at, by=by)
    erasure = Erasure.objects.create(
        person_pk=person.pk, asked=asked, at=at, by=by, gone=_counted(going), stays=_staying(verdicts)
    )
    erasure.certificate = _certificate(erasure, at=at, by=by)
    erasure.save(update_fields=["certificate"])
    changes = {"person": person.pk, "gone": erasure.gone, "certificate": erasure.certificate}
    audit.record("person erased", erasure, at=at, by=by, changes=changes)
    transaction.on_commit(partial(remember, erasure))
    return erasure


def _counted(verdicts: Iterable[Verdict]) -> list[dict[str, Any]]:
    counts: dict[str, int] = defaultdict(int)
    for verdict in verdicts:
        counts[verdict.held.kind] += 1
    return [{"kind": kind.name, "count": counts[kind.name]} for kind in KINDS if kind.name in counts]


def _staying(verdicts: Iterable[Verdict]) -> list[dict[str, Any]]:
    """One line for each kind and reason, with the latest day on which it ends."""
    groups: dict[tuple[str, str], list[Verdict]] = defaultdict(list)
    for verdict in verdicts:
        if verdict.stays:
            groups[verdict.held.kind, verdict.why].append(verdict)
    return [
        {"kind": kind, "why": why, "count": len(group), "until": _latest(group)}
        for (kind, why), group in sorted(groups.items())
    ]


def _latest(group: Iterable[Verdict]) -> str:
    days = [verdict.until for verdict in group if verdict.until is not None]
    return max(days).isoformat() if days else ""


def _certificate(erasure: Erasure, *, at: datetime, by: User | None) -> Document:
    title = f"Erasure certificate {erasure.pk}"
    context = {"erasure": erasure, "title": title, **in_words(erasure)}
    with timezone.override(the_business().zone):
        paper = render_pdf("documents/erasure.html", context)
    sealed = seal_pdf(paper, reason="Erasure certificate", at=at)
    return store_document(kind=Document.Kind.ERASURE, title=title, content=sealed, at=at, by=by, sealed=True)


def in_words(erasure: Erasure) -> dict[str, Any]:
    """Its lines with the labels of their kinds and days as dates."""
    gone = [{**line, "label": BY_NAME[line["kind"]].label} for line in erasure.gone]
    stays = [
        {
            **line,
            "label": BY_NAME[line["kind"]].label,
            "until": date.fromisoformat(line["until"]) if line["until"] else None,
        }
        for line in erasure.stays
    ]
    return {"gone": gone, "stays": stays}
