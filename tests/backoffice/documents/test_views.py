import pytest
from django.urls import reverse

from backoffice.access.powers import POWERS, Role
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory

pytestmark = pytest.mark.usefixtures("private_folder")
CONTENT = b"%PDF-1.7 sample"


def stored(now, kind=Document.Kind.INVOICE, title="Invoice 2026-0001") -> Document:
    return store_document(kind=kind, title=title, content=CONTENT, at=now, by=None)


@pytest.mark.parametrize("role", Role)
@pytest.mark.parametrize("kind", Document.Kind)
def test_each_kind_opens_only_to_those_who_may_read_it(business, now, role, kind):
    document = stored(now, kind)
    answer = signed_in(UserFactory(role=role)).get(reverse("backoffice:document", args=[document.pk]))
    may = document.power_to_read in POWERS[role]
    assert answer.status_code == (200 if may else 403)
    assert (answer.content == CONTENT) is may


def test_a_stranger_is_sent_to_the_sign_in_page(business, client, now):
    answer = client.get(reverse("backoffice:document", args=[stored(now).pk]))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("backoffice:sign-in"))


def test_an_unknown_document_is_not_found(as_owner_manager):
    assert as_owner_manager.get(reverse("backoffice:document", args=[404404])).status_code == 404


def test_the_browser_shows_it_and_no_cache_keeps_it(as_owner_manager, now):
    answer = as_owner_manager.get(reverse("backoffice:document", args=[stored(now).pk]))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == 'inline; filename="Invoice_2026-0001.pdf"'
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert "no-store" in answer["Cache-Control"]


@pytest.mark.parametrize("title", ["ليلى الكحلاني", 'a"b\r\nX-Other: 1', "🐴 report", "../../etc/passwd"])
def test_a_title_cannot_break_the_header(as_owner_manager, now, title):
    answer = as_owner_manager.get(reverse("backoffice:document", args=[stored(now, title=title).pk]))
    assert answer.status_code == 200
    shown = answer["Content-Disposition"]
    assert shown.startswith("inline; filename")
    assert "/" not in shown
    assert "\n" not in shown


def test_posting_is_not_possible(as_owner_manager, now):
    assert as_owner_manager.post(reverse("backoffice:document", args=[stored(now).pk])).status_code == 405


def test_a_changed_file_is_not_shown(as_owner_manager, now, private_folder):
    document = stored(now)
    (private_folder / document.file.name).write_bytes(b"%PDF-1.7 other")
    answer = as_owner_manager.get(reverse("backoffice:document", args=[document.pk]))
    assert answer.status_code == 409
    assert "not the one that was stored" in answer.content.decode()
