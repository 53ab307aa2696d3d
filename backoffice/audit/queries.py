from collections.abc import Iterator

from django.db import models

from backoffice.audit.chain import entry_hash
from backoffice.audit.models import Entry, Head


def trail_of(target: models.Model) -> models.QuerySet[Entry]:
    return Entry.objects.filter(target=target._meta.label_lower, target_pk=str(target.pk)).select_related("by")


def breaks_in_chain() -> Iterator[str]:
    """A sentence for each entry that is missing, changed or out of place; nothing when the trail is whole."""
    number, previous = 0, "0" * 64
    for entry in Entry.objects.order_by("number").iterator():
        if entry.number != number + 1:
            yield f"audit: entry {number + 1} is missing (the next one found is {entry.number})."
        if entry.previous_hash != previous:
            yield f"audit: entry {entry.number} does not follow the entry before it."
        if entry.hash != _recomputed(entry):
            yield f"audit: entry {entry.number} was changed after it was written."
        number, previous = entry.number, entry.hash
    head = Head.objects.filter(pk=1).first() or Head()
    if (head.number, head.hash) != (number, previous):
        yield f"audit: the trail ends at entry {number}, its head says {head.number}."


def _recomputed(entry: Entry) -> str:
    return entry_hash(
        number=entry.number,
        at=entry.at,
        by=entry.by_id,
        via=entry.via,
        action=entry.action,
        target=entry.target,
        target_pk=entry.target_pk,
        changes=entry.changes,
        previous_hash=entry.previous_hash,
    )
