from tempfile import TemporaryFile
from typing import cast

from django.conf import settings
from django.http import FileResponse, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.later.models import Job
from backoffice.upkeep.keeping_safe import note_taken
from backoffice.upkeep.models import BackupNote
from backoffice.upkeep.taking_along import write_all

LATEST = 30


@require_POST
@needs(Power.CHANGE_SETTINGS)
def take_along(request: StaffRequest) -> HttpResponse:
    """All records and files as a ZIP, for other programs. That somebody took it is in the audit trail."""
    now = timezone.now()
    file = TemporaryFile()  # noqa: SIM115  (the response closes it)
    write_all(file, at=now)
    note_taken(at=now, by=request.user)
    file.seek(0)
    name = f"everything-{timezone.localdate():%Y-%m-%d}.zip"
    return cast("HttpResponse", FileResponse(file, as_attachment=True, filename=name))


@require_GET
@needs(Power.CHANGE_SETTINGS)
def backups(request: StaffRequest) -> HttpResponse:
    """What was kept safe, what was tried, and how to have it done by itself."""
    context = {
        "notes": BackupNote.objects.all()[:LATEST],
        "is_set": bool(settings.BACKUP_DIR),
        "keeps": settings.BACKUP_KEEP,
        "is_sealed": bool(settings.BACKUP_PASSPHRASE),
        "failed": Job.objects.exclude(trouble=""),
    }
    return render(request, "backoffice/upkeep/backups.html", context)


@require_POST
@needs(Power.CHANGE_SETTINGS)
def jobs_forget(request: StaffRequest) -> HttpResponse:
    """Somebody has looked at the long work that failed."""
    Job.objects.exclude(trouble="").delete()
    return redirect("backoffice:backups")
