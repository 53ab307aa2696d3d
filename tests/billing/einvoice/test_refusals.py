"""What would be no valid e-invoice is not issued: the number stays free, and the page says what to mend."""

from copy import deepcopy
from decimal import Decimal

import pytest
from django.core.management import call_command

from backoffice.refusal import Refused
from billing.einvoice.hybrid import carried_by
from billing.einvoice.semantic import terms_of, vat_number
from billing.einvoice.syntax import Syntax, e_invoice, faults_of, written
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.models import Invoice
from billing.numbers.models import NumberSeries
from billing.packages.actions import agree_deduction
from billing.packages.sold import Deduction
from billing.prices.models import Price, TaxExemption
from tests.factories.billing import (
    AT,
    DAY,
    TaxRateFactory,
    draft_for,
    finished_visit,
    issued_invoice,
    owned_horse,
    priced_service,
)
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def payer(business):
    business.e_invoice, business.tax_identity = True, "12-3456789"
    business.save()
    return PersonFactory(name="Desmond Quarrie")


def refusal_of(draft: Invoice, by) -> str:
    with pytest.raises(Refused) as refused:
        issue_invoice(invoice=draft, on=DAY, at=AT, by=by)
    draft.refresh_from_db()
    assert (draft.state, draft.number, NumberSeries.objects.filter(pk="invoice").exists()) == ("draft", None, False)
    return str(refused.value)


def test_a_seller_without_a_number_is_told_where_to_write_it(payer, business, owner_manager):
    business.tax_identity = ""
    business.save()
    assert "Settings, Business" in refusal_of(draft_for(payer, owner_manager), owner_manager)


def test_tax_without_a_tax_number_is_refused(payer, business, owner_manager):
    business.tax_identity, business.registration = "", "HRB 1234"
    business.save()
    TaxRateFactory(percent=Decimal("19"))
    assert "names your tax number" in refusal_of(draft_for(payer, owner_manager), owner_manager)


def mixed_work(payer, by) -> None:
    TaxRateFactory(percent=Decimal("19"))
    for category in ("standard", "nothing recorded"):
        service = priced_service(name=f"Work {category}")
        Price.objects.filter(service=service).update(tax_category=category[:20])
        finished_visit(owned_horse(payer), service)
    confirm_charges(day=DAY, at=AT, by=by)


def test_what_is_outside_of_tax_stands_on_a_paper_of_its_own(payer, owner_manager):
    """EN 16931 BR-O-11; a booking deposit comes off the paper of its own kind."""
    mixed_work(payer, owner_manager)
    agree_deduction(
        kind=Deduction.Kind.DISCOUNT,
        payer=payer,
        amount=Decimal(10),
        on=DAY,
        reason="thanks",
        at=AT,
        by=owner_manager,
    )
    drafts = draft_invoices(at=AT, by=owner_manager)
    assert [(draft.net, draft.tax) for draft in drafts] == [(Decimal(85), Decimal("16.15")), (Decimal(95), 0)]
    service = priced_service(name="More")
    finished_visit(owned_horse(payer), service)
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    (again,) = draft_invoices(at=AT, by=owner_manager)
    assert (again.pk, again.net) == (drafts[0].pk, Decimal(180))
    for draft in drafts:
        issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)


def test_a_line_without_a_rate_among_taxed_ones_is_named(payer, business, owner_manager):
    """In a draft of before e-invoices were asked for."""
    business.e_invoice = False
    business.save()
    mixed_work(payer, owner_manager)
    (draft,) = draft_invoices(at=AT, by=owner_manager)
    business.e_invoice = True
    business.save()
    said = refusal_of(draft, owner_manager)
    assert "Work nothing recorded" in said
    assert "BR-O-11" in said


def test_who_is_exempt_pays_no_tax_and_the_paper_says_why(payer, owner_manager):
    """EN 16931 BR-E-10: an exempt paper gives its reason."""
    TaxRateFactory(percent=Decimal("19"))
    TaxExemption.objects.create(person=payer, certificate="C-77", reason="Charity", since=DAY)
    invoice = issued_invoice(payer, owner_manager)
    assert (invoice.tax, invoice.frozen["tax_groups"][0]["text"]) == (0, "Charity, certificate C-77")
    for syntax in Syntax:
        assert b"Charity, certificate C-77" in e_invoice(invoice.frozen, syntax)


def test_one_wrong_cent_is_named_by_its_rule(payer, owner_manager):
    paper = deepcopy(issued_invoice(payer, owner_manager).frozen)
    paper["total"] = "95.01"
    for syntax in Syntax:
        with pytest.raises(Refused, match="BR-CO-15"):
            e_invoice(paper, syntax)


def test_a_document_that_is_not_of_the_schema_is_named_too(payer, owner_manager):
    content = written(issued_invoice(payer, owner_manager).frozen, Syntax.UBL)
    assert "IssueDay" in faults_of(content.replace(b"IssueDate", b"IssueDay"), Syntax.UBL)[0]


def test_without_the_setting_the_paper_carries_nothing(payer, business, owner_manager):
    business.e_invoice = False
    business.save()
    invoice = issued_invoice(payer, owner_manager)
    with invoice.document.file.open() as file:
        assert carried_by(file.read()) is None


@pytest.mark.parametrize(
    ("typed", "number"),
    [
        ("DE 136 695 976", "DE136695976"),
        ("GB 980 7806 84", "GB980780684"),
        ("980 7806 84", "GB980780684"),
        ("12-3456789", ""),
        ("", ""),
    ],
)
def test_a_vat_number_is_known_by_its_check_digits(typed, number):
    """The check digits of the German and the UK VAT number, by `python-stdnum`, whose examples these are."""
    assert vat_number(typed) == number


def test_what_is_outside_of_tax_names_no_vat_number(payer, business, owner_manager):
    """EN 16931 BR-O-02."""
    business.tax_identity = "DE136695976"
    business.save()
    terms = terms_of(issued_invoice(payer, owner_manager).frozen)
    assert (terms["BG-4"]["vat_identifier"], terms["BG-4"]["legal_identifier"]) == ("", "DE136695976")


@pytest.mark.parametrize("syntax", [each.value for each in Syntax])
def test_the_command_prints_what_passes_the_rules(payer, owner_manager, capsys, syntax):
    invoice = issued_invoice(payer, owner_manager)
    call_command("export_einvoice", invoice.name, "--format", syntax)
    assert faults_of(capsys.readouterr().out.strip().encode(), Syntax(syntax)) == []


@pytest.mark.parametrize("number", ["2026-0099", "2026-C0001", "2025-0001", "x", "-", "2026-" + "9" * 30])
def test_the_command_knows_only_what_was_issued(payer, owner_manager, capsys, number):
    issued_invoice(payer, owner_manager)
    with pytest.raises(SystemExit, match="1"):
        call_command("export_einvoice", number)
    assert f"{number} was issued" in capsys.readouterr().err
