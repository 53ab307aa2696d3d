from datetime import datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.uploads import PHOTO, Given
from backoffice.refusal import Refused
from clients.plans.cadence import say_date
from clients.visits.models import Visit, VisitPhoto

MOST_PHOTOS = 40


@audit.action
def add_photo(*, visit: Visit, photo: Given, words: str = "", at: datetime, by: User) -> VisitPhoto:
    """A photo taken at the visit, kept privately; whether it may be shared is a question of its own."""
    if photo.content_type != PHOTO:
        raise Refused("This is not a photo.")
    if visit.photos.count() >= MOST_PHOTOS:
        raise Refused(f"A visit keeps {MOST_PHOTOS} photos at most.")
    document = store_document(
        kind=Document.Kind.PHOTO,
        title=f"{visit.animal}, {say_date(visit.day)}",
        content=photo.content,
        content_type=photo.content_type,
        at=at,
        by=by,
    )
    kept = VisitPhoto.objects.create(visit=visit, document=document, words=words.strip(), taken_at=at)
    audit.record("photo added", visit, at=at, by=by, changes={"document": document.pk})
    return kept
