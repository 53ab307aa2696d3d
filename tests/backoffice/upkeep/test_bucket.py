"""Private files in a bucket of an S3-compatible store, which a simulator stands in for: the same as in a folder."""

from pathlib import Path

import boto3
import pytest
from django.core.files.storage import default_storage
from django.utils import timezone
from moto import mock_aws

from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.documents.sweeping import sweep
from backoffice.documents.verification import FOLDER, names_in
from backoffice.refusal import Refused
from backoffice.settings.base import in_bucket
from backoffice.upkeep import rows
from backoffice.upkeep.backup import restore_backup, write_backup
from tests.factories.billing import AT

pytestmark = pytest.mark.django_db


@pytest.fixture
def bucket(settings, monkeypatch, business):
    for name, value in (("S3_REGION", "us-east-1"), ("S3_KEY", "testing"), ("S3_SECRET", "testing")):
        monkeypatch.setenv(name, value)
    with mock_aws():
        boto3.client("s3", region_name="us-east-1").create_bucket(Bucket="desk")
        settings.STORAGES = {**settings.STORAGES, "default": in_bucket("desk")}
        yield "desk"


@pytest.fixture
def paper(bucket, owner_manager):
    return store_document(kind=Document.Kind.FORM, title="Consent", content=b"%PDF-1.7 x", at=AT, by=owner_manager)


def test_a_file_is_kept_read_and_never_written_over(paper, owner_manager):
    other = store_document(kind=Document.Kind.FORM, title="Consent", content=b"%PDF-1.7 y", at=AT, by=owner_manager)
    assert (bytes_of(paper), bytes_of(other)) == (b"%PDF-1.7 x", b"%PDF-1.7 y")
    assert sorted(names_in(default_storage, FOLDER)) == sorted([paper.file.name, other.file.name])


def test_it_leaves_only_through_the_door(paper, as_owner_manager, client):
    address = f"/documents/{paper.pk}/"
    assert as_owner_manager.get(address).content == b"%PDF-1.7 x"
    assert client.get(address).status_code == 302


def test_one_that_is_gone_is_a_sentence(paper):
    default_storage.delete(paper.file.name)
    with pytest.raises(Refused, match="is missing"):
        bytes_of(paper)


def test_one_without_a_row_is_swept(paper):
    Document.objects.all().delete()
    assert sweep(at=timezone.now().replace(year=2100)) == 1
    assert list(names_in(default_storage, FOLDER)) == []


def test_a_backup_of_it_comes_back(paper, tmp_path: Path):
    write_backup(tmp_path / "one", at=AT)
    default_storage.delete(paper.file.name)
    rows.empty_all()
    restore_backup(tmp_path / "one")
    assert bytes_of(Document.objects.get()) == b"%PDF-1.7 x"


def test_the_health_page_asks_it(bucket, client):
    assert client.get("/health/").status_code == 200
    boto3.client("s3", region_name="us-east-1").delete_bucket(Bucket=bucket)
    assert client.get("/health/").content == b"no files"
