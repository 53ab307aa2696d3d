"""All drafts issued beside the request, each for itself, and their papers together."""

from io import BytesIO
from zipfile import ZipFile

import pytest
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from backoffice.documents.queries import bytes_of
from backoffice.refusal import Refused
from billing.invoices import batch
from billing.invoices.batch import carry_out, start_run
from billing.invoices.models import Invoice, InvoiceRun
from billing.invoices.papers_together import as_one_pdf, as_zip
from billing.invoices.verification import faults_of_invoices, faults_of_numbers
from tests.factories.billing import AT, DAY, draft_for, issued_invoice
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def drafts(business, owner_manager) -> list[Invoice]:
    return [draft_for(PersonFactory(name=f"Payer {number}"), owner_manager) for number in range(4)]


def run(by) -> InvoiceRun:
    started = start_run(on=DAY, at=AT, by=by)
    started.refresh_from_db()
    return started


def test_every_draft_is_issued_in_the_order_of_the_payers(drafts, owner_manager):
    done = run(owner_manager)
    assert (done.issued, done.total, done.percent_done, done.refused) == (4, 4, 100, [])
    assert done.ended_at is not None
    named = list(Invoice.objects.order_by("number").values_list("number", "payer__name"))
    assert named == [(number + 1, f"Payer {number}") for number in range(4)]
    assert [*faults_of_numbers(), *faults_of_invoices()] == []


def test_one_that_is_refused_holds_up_none_after_it(drafts, owner_manager):
    drafts[1].lines.all().delete()
    done = run(owner_manager)
    assert (done.issued, done.percent_done) == (3, 100)
    assert [(each["payer"], each["why"]) for each in done.refused] == [
        ("Payer 1", "A draft without lines is not issued.")
    ]
    assert list(faults_of_numbers()) == []


def test_a_run_that_was_cut_off_is_taken_up_by_the_next(drafts, owner_manager, monkeypatch):
    class Killed(BaseException):
        pass

    issue, calls = batch.issue_invoice, []

    def twice_then_dead(**fields):
        calls.append(1)
        if len(calls) > 2:
            raise Killed
        return issue(**fields)

    monkeypatch.setattr(batch, "issue_invoice", twice_then_dead)
    cut_off = InvoiceRun.objects.create(on=DAY, total=4, started_at=AT, started_by=owner_manager, seen_at=AT)
    with pytest.raises(Killed):
        carry_out(cut_off.pk)
    monkeypatch.undo()
    assert Invoice.objects.filter(state="issued").count() == 2
    again = run(owner_manager)
    assert (again.total, again.issued) == (2, 2)
    assert list(faults_of_numbers()) == []
    carry_out(again.pk)
    assert Invoice.objects.filter(state="issued").count() == 4


def test_without_a_draft_there_is_nothing_to_run(business, owner_manager):
    with pytest.raises(Refused, match="no draft"):
        start_run(on=DAY, at=AT, by=owner_manager)


@pytest.mark.drawn
def test_papers_together_are_the_issued_ones_byte_by_byte(drafts, owner_manager):
    run(owner_manager)
    invoices = list(Invoice.objects.select_related("document", "payer").order_by("number"))
    archive = ZipFile(BytesIO(as_zip(invoices)))
    assert archive.namelist()[0] == "2026-0001-payer-0.pdf"
    assert archive.read("2026-0001-payer-0.pdf") == bytes_of(invoices[0].document)
    together = PdfReader(BytesIO(as_one_pdf(invoices)))
    assert [f"2026-000{number + 1}" in page.extract_text() for number, page in enumerate(together.pages)] == [True] * 4


def test_the_pages_start_a_run_and_say_how_far_it_is(drafts, as_owner_manager, as_bookkeeper, as_assistant):
    assert "Issue all 4" in as_owner_manager.get(reverse("billing:invoices")).content.decode()
    answer = as_owner_manager.post(reverse("billing:invoice-run-start"))
    page = as_owner_manager.get(answer.url)
    assert "4 of 4 issued" in page.content.decode()
    assert "Refresh" not in page.headers
    assert as_assistant.get(answer.url).status_code == 403
    assert as_bookkeeper.get(answer.url).status_code == 200


def test_a_run_under_way_looks_again_and_one_without_a_sign_of_life_says_so(drafts, owner_manager, as_owner_manager):
    started = InvoiceRun.objects.create(
        on=DAY, total=4, started_at=timezone.now(), started_by=owner_manager, seen_at=timezone.now()
    )
    page = as_owner_manager.get(reverse("billing:invoice-run", args=[started.pk]))
    assert page.headers["Refresh"] == "2"
    InvoiceRun.objects.update(seen_at=AT)
    page = as_owner_manager.get(reverse("billing:invoice-run", args=[started.pk]))
    assert "It was cut off." in page.content.decode()
    assert "Refresh" not in page.headers


def test_the_papers_of_a_time_come_as_a_file(business, owner_manager, as_owner_manager):
    payer = PersonFactory()
    issued_invoice(payer, owner_manager)
    issued_invoice(PersonFactory(), owner_manager)
    where = reverse("billing:invoice-papers")
    asked = {"since": "2026-03-01", "until": "2026-03-31", "kind": "zip", "payer": payer.pk}
    assert len(ZipFile(BytesIO(as_owner_manager.get(where, asked).content)).namelist()) == 1
    pdf = as_owner_manager.get(where, asked | {"kind": "pdf", "payer": ""})
    assert len(PdfReader(BytesIO(pdf.content)).pages) == 2
    nothing = as_owner_manager.get(where, asked | {"since": "2025-01-01", "until": "2025-01-02"})
    assert "No invoice was issued on these days." in nothing.content.decode()
    assert as_owner_manager.get(where, {"since": "x", "until": "y"}).status_code == 422
