"""Whether this process can do its work: for whoever watches the server. It says no more than that."""

from django.contrib.auth.decorators import login_not_required
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

GOOD, PROBE = "good", "health/probe"


@login_not_required
@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """200 and “good”, or 503 and what does not answer: the database, or the place of the files."""
    wrong = [name for name, answers in (("database", _database), ("files", _files)) if not answers()]
    said, status = ("no " + ", no ".join(wrong), 503) if wrong else (GOOD, 200)
    return HttpResponse(said, status=status, content_type="text/plain; charset=utf-8")


def _database() -> bool:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    except DatabaseError:
        return False
    return True


def _files() -> bool:
    try:
        default_storage.delete(default_storage.save(PROBE, ContentFile(b"")))
    except Exception:  # noqa: BLE001  (a store of files far away has errors of its own)
        return False
    return True
