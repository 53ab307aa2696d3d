from django.conf import settings
from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from backoffice.access.doors import StaffRequest, needs
from backoffice.access.powers import Power
from backoffice.upkeep.models import BackupNote

LATEST = 30


@require_GET
@needs(Power.CHANGE_SETTINGS)
def backups(request: StaffRequest) -> HttpResponse:
    """What was kept safe, what was tried, and how to have it done by itself."""
    context = {
        "notes": BackupNote.objects.all()[:LATEST],
        "is_set": bool(settings.BACKUP_DIR),
        "keeps": settings.BACKUP_KEEP,
        "is_sealed": bool(settings.BACKUP_PASSPHRASE),
    }
    return render(request, "backoffice/upkeep/backups.html", context)
