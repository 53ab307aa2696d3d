"""Files whose row was never written, because the process was ended between the two."""

from datetime import datetime, timedelta

from django.core.files.storage import default_storage

from backoffice.documents.models import Document
from backoffice.documents.verification import FOLDER, names_in

UNDER_WAY = timedelta(minutes=10)  # a younger file may belong to a change that is still under way


def sweep(*, at: datetime, older_than: timedelta = UNDER_WAY) -> int:
    """Remove them; nothing refers to them. Returns how many there were."""
    known = set(Document.objects.values_list("file", flat=True))
    lost = [name for name in names_in(default_storage, FOLDER) if name not in known]
    old = [name for name in lost if at - default_storage.get_modified_time(name) >= older_than]
    for name in old:
        default_storage.delete(name)
    return len(old)
