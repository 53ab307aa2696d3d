"""Today says when a backup is missing or a trial found something, to whoever may put it right."""

from datetime import timedelta

import pytest
from django.urls import reverse

from backoffice.home.desk import backups
from backoffice.upkeep.models import BackupNote
from tests.factories.billing import AT, DAY

pytestmark = pytest.mark.django_db


@pytest.fixture
def by_setting(settings, tmp_path, business):
    settings.BACKUP_DIR = str(tmp_path)


def note(kind="backup", days=0, is_good=True, words="all of it") -> None:
    BackupNote.objects.create(kind=kind, at=AT - timedelta(days=days), is_good=is_good, words=words)


def told() -> list[tuple[str, str]]:
    return [(row.name, row.sentence) for row in backups(DAY).rows]


def test_without_the_setting_nothing_is_expected(business, settings):
    settings.BACKUP_DIR = ""
    assert told() == []


def test_one_of_last_night_is_well_and_an_older_one_is_late(by_setting):
    assert told() == [("No backup tonight", "There was none yet.")]
    note(days=2)
    assert told() == [("No backup tonight", "The last is of 28 Feb 2026.")]
    note(days=1)
    assert told() == []


def test_what_failed_is_named_until_it_works_again(by_setting):
    note(days=0, is_good=False, words="Not made: No space left on device.")
    note(kind="drill", is_good=False, words="verify failed: 2 wrong.")
    assert told() == [("Backup", "Not made: No space left on device."), ("Trial restore", "verify failed: 2 wrong.")]
    note()
    note(kind="drill")
    assert told() == []


def test_the_page_is_for_who_runs_the_office(by_setting, as_owner_manager, as_assistant, as_bookkeeper, client):
    page = reverse("backoffice:backups")
    assert "No backup yet" in as_owner_manager.get(page).content.decode()
    note(words="51 rows of 9 tables and 3 files")
    assert "51 rows of 9 tables and 3 files" in as_owner_manager.get(page).content.decode()
    for other in (as_assistant, as_bookkeeper):
        assert other.get(page).status_code == 403
    assert client.get(page).status_code == 302
