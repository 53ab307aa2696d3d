"""All that is held about a person as one ZIP: JSON for a machine, a plain index for the person, and their papers."""

import hashlib
import io
import json
import zipfile
from datetime import date, datetime

from django.core.serializers.json import DjangoJSONEncoder

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.erasing.collecting import verdicts_on
from backoffice.keeping.kinds import BY_NAME
from backoffice.keeping.rules import Verdict
from clients.animals.actions import say_day, today_of
from clients.people.models import Person
from clients.records.about_person import NOT_ALONE


@audit.action
def hand_over(*, person: Person, at: datetime, by: User) -> bytes:
    """The ZIP of everything that concerns the person and is not also about somebody else's horse."""
    on = today_of(at)
    verdicts = [verdict for verdict in verdicts_on(person, on) if verdict.held.bound != NOT_ALONE]
    content = _zipped(person, verdicts, on)
    changes = {"records": len(verdicts), "sha256": hashlib.sha256(content).hexdigest()}
    audit.record("data handed over", person, at=at, by=by, changes=changes)
    return content


def _zipped(person: Person, verdicts: list[Verdict], on: date) -> bytes:
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as file:
        records = [
            {
                "kind": BY_NAME[verdict.held.kind].label,
                "what": verdict.held.words,
                "kept_until": verdict.until,
                "why_kept": verdict.why,
                "record": verdict.held.told,
            }
            for verdict in verdicts
        ]
        whole = {"person": person.name, "as_of": on, "records": records}
        file.writestr("data.json", json.dumps(whole, cls=DjangoJSONEncoder, indent=2, ensure_ascii=False))
        file.writestr("index.txt", _index(person, verdicts, on))
        for name, document in _papers(verdicts).items():
            file.writestr(name, bytes_of(document))
    return kept.getvalue()


def _papers(verdicts: list[Verdict]) -> dict[str, Document]:
    """Round sheets name other people's stops, so they are not handed over."""
    documents = [
        paper for verdict in verdicts for paper in verdict.held.documents if paper.kind != Document.Kind.ROUND_SHEET
    ]
    return {f"papers/{document.pk:06d}-{document.kind}{document.suffix}": document for document in documents}


def _index(person: Person, verdicts: list[Verdict], on: date) -> str:
    lines = [
        f"What {the_business().name} holds about {person.name}",
        f"As of {say_day(on)}.",
        "",
        "data.json   every record, for a program to read",
        "papers/     the papers, as they were signed or issued",
        "",
    ]
    for name in dict.fromkeys(verdict.held.kind for verdict in verdicts):
        lines += [BY_NAME[name].label, *(_line(verdict) for verdict in verdicts if verdict.held.kind == name), ""]
    return "\n".join(lines)


def _line(verdict: Verdict) -> str:
    until = f" (kept until {verdict.until:%Y-%m-%d})" if verdict.until else ""
    return f"  {verdict.held.words}{until}"
