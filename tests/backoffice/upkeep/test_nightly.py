import io
from datetime import timedelta

import pytest
import time_machine
from django.core.management import call_command

from backoffice.upkeep.backup import backups_in
from backoffice.upkeep.models import BackupNote
from clients.paperwork.models import Form
from tests.conftest import NOW
from tests.factories.paperwork import ready_animal

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business")]


def test_the_nights_work_makes_a_form_for_what_ends_soon_and_says_how_many():
    ready_animal()
    Form.objects.update(valid_until=NOW.date() + timedelta(days=3))
    said = io.StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command("nightly", stdout=said)
    assert Form.objects.filter(state=Form.State.TO_SIGN).count() == 1
    assert "1 form made for what ends soon." in said.getvalue()


def test_a_backup_that_fails_is_told_and_the_rest_of_the_night_goes_on(settings):
    settings.BACKUP_DIR = "/dev/null/nowhere"
    said = io.StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command("nightly", stdout=said)
    assert "Not made" in said.getvalue()
    assert "driven days logged." in said.getvalue()
    assert [(note.kind, note.is_good) for note in BackupNote.objects.all()] == [("backup", False)]


def test_the_night_makes_a_backup_where_a_folder_is_set(settings, tmp_path):
    settings.BACKUP_DIR = str(tmp_path / "safe")
    BackupNote.objects.create(kind="drill", at=NOW, is_good=True, words="ok")
    with time_machine.travel(NOW, tick=False):
        call_command("nightly", stdout=io.StringIO())
    (made,) = backups_in(tmp_path / "safe")
    assert BackupNote.objects.get(kind="backup").name == made.name
