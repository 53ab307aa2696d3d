"""One photo to know the horse by. A new one takes the place of the one before, whose bytes are destroyed."""

from datetime import datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.actions import erase_document, store_document
from backoffice.documents.models import Document
from backoffice.documents.uploads import PHOTO, Given
from backoffice.refusal import Refused
from clients.animals.models import Animal


@audit.action
def set_photo(*, animal: Animal, photo: Given, at: datetime, by: User) -> Animal:
    animal = Animal.objects.select_for_update(of=("self",)).get(pk=animal.pk)
    if photo.content_type != PHOTO:
        raise Refused("This is not a photo.")
    before = animal.photo
    animal.photo = store_document(
        kind=Document.Kind.PHOTO,
        title=f"Photo of {animal}",
        content=photo.content,
        content_type=photo.content_type,
        at=at,
        by=by,
    )
    animal.save(update_fields=["photo"])
    if before is not None and before.erased_at is None:
        erase_document(document=before, rule="horse", at=at, by=by)
    changes = {"photo": animal.photo.pk, "before": before.pk if before else None}
    audit.record("photo set", animal, at=at, by=by, changes=changes)
    return animal
