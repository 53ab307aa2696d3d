"""A process that is ended between a file and its row leaves the file; it is removed when nobody can still want it."""

from datetime import timedelta

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.sweeping import sweep
from backoffice.documents.verification import faults_of_files, files_without_a_row

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


def test_only_what_has_no_row_and_is_old_goes(owner_manager):
    at = timezone.now()
    store_document(kind=Document.Kind.RECEIPT, title="x", content=b"%PDF-1.7 x", at=at, by=owner_manager)
    default_storage.save("documents/2026/03/lost.pdf", ContentFile(b"x"))
    assert sweep(at=at) == 0
    assert len(list(files_without_a_row())) == 1
    assert sweep(at=at + timedelta(minutes=11)) == 1
    assert [*files_without_a_row(), *faults_of_files()] == []
