from datetime import date
from decimal import Decimal

import pytest
from django.contrib.auth import get_user
from django.urls import reverse

from backoffice.refusal import Refused
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.by_hand import charge_by_hand, take_charge_back
from billing.invoices.crediting import credit_invoice
from billing.invoices.models import Charge
from billing.invoices.queries import lines_of, proposals_for, shares_to_invoice
from billing.journal.models import Account, Posting
from tests.factories.billing import AT, DAY, TaxRateFactory, finished_visit, owned_horse, priced_service
from tests.factories.clients import PersonFactory

KIND = Charge.Kind


@pytest.fixture
def payer(business):
    return PersonFactory(name="Ottoline Marsh")


def charged(payer, by, **terms):
    said = {"kind": KIND.DAY_RATE, "text": "Day at the show", "amount": Decimal("480.00"), "on": DAY, **terms}
    return charge_by_hand(payer=payer, at=AT, by=by, **said)


@pytest.mark.parametrize(
    ("kind", "account"),
    [
        (KIND.DAY_RATE, Account.INCOME_SESSIONS),
        (KIND.LATE_RETURN, Account.INCOME_HIRE),
        (KIND.OTHER, Account.INCOME_FEES),
    ],
)
def test_it_stands_on_the_next_invoice_and_in_its_own_income(payer, owner_manager, kind, account):
    charged(payer, owner_manager, kind=kind, reason="8 hours at 60.00")
    (draft,) = draft_invoices(at=AT, by=owner_manager)
    invoice = issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
    assert [(line.text, line.reason, line.amount) for line in lines_of(invoice)] == [
        ("Day at the show", "8 hours at 60.00", Decimal(480))
    ]
    assert Posting.objects.get(account=account).amount == Decimal(-480)


@pytest.mark.parametrize(
    ("terms", "sentence"),
    [
        ({"kind": KIND.SESSION}, "Session is charged where the work is."),
        ({"text": " "}, "Say what it is for."),
        ({"amount": Decimal(0)}, "A charge is more than nothing."),
        ({"amount": Decimal("-0.01")}, "A charge is from 0 to $1,000,000.00."),
        ({"amount": Decimal("10000000")}, "A charge is from 0 to $1,000,000.00."),
        ({"amount": Decimal("0.001")}, "An amount of USD has 2 decimals."),
        ({"on": date(2026, 3, 3)}, "Nothing is charged ahead of its day."),
    ],
)
def test_what_is_refused(payer, owner_manager, terms, sentence):
    with pytest.raises(Refused) as refused:
        charged(payer, owner_manager, **terms)
    assert refused.value.sentence == sentence
    assert not Charge.objects.exists()


def test_a_confirmed_session_is_taken_back_and_waits_again(payer, owner_manager):
    visit = finished_visit(owned_horse(payer), priced_service())
    confirm_charges(day=visit.day, at=AT, by=owner_manager)
    assert not proposals_for(visit.day)
    (charge,) = Charge.objects.all()
    take_charge_back(charge=charge, reason="the wrong price list", at=AT, by=owner_manager)
    assert [proposal.session for proposal in proposals_for(visit.day)] == [visit.sessions.get()]
    assert not shares_to_invoice().exists()


def test_what_is_on_paper_is_not_taken_back(payer, owner_manager):
    charge = charged(payer, owner_manager)
    (draft,) = draft_invoices(at=AT, by=owner_manager)
    with pytest.raises(Refused, match="Throw the draft away first"):
        take_charge_back(charge=charge, reason="wrong", at=AT, by=owner_manager)
    issued = issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
    with pytest.raises(Refused, match="credit it there"):
        take_charge_back(charge=charge, reason="wrong", at=AT, by=owner_manager)
    (line,) = lines_of(issued)
    told = {"reason": "not at the show", "on": DAY, "at": AT, "by": owner_manager}
    with pytest.raises(Refused, match="no rule gives it"):
        credit_invoice(invoice=issued, amounts={line: line.amount}, anew=[line], **told)
    credit_invoice(invoice=issued, amounts={line: line.amount}, **told)


def test_taking_back_needs_a_reason_and_happens_once(payer, owner_manager):
    charge = charged(payer, owner_manager)
    with pytest.raises(Refused, match="needs a reason"):
        take_charge_back(charge=charge, reason=" ", at=AT, by=owner_manager)
    take_charge_back(charge=charge, reason="typed twice", at=AT, by=owner_manager)
    with pytest.raises(Refused, match="Only a confirmed charge"):
        take_charge_back(charge=charge, reason="typed twice", at=AT, by=owner_manager)


def test_the_pages_from_the_account_and_back(payer, as_owner_manager):
    page = reverse("billing:charge-new", args=[payer.pk])
    assert b"tax_category" not in as_owner_manager.get(page).content
    TaxRateFactory(category="reduced")
    wrong = as_owner_manager.post(page, {"kind": "other", "amount": "1,5x", "on": "2026-11-01", "tax_category": "no"})
    assert wrong.status_code == 422
    assert b"As the invoice says it is missing." in wrong.content
    assert b"Choose one from the list." in wrong.content
    said = {"kind": "other", "text": "Lead rope", "amount": "12.50", "on": "2026-11-01", "tax_category": "standard"}
    account = as_owner_manager.post(page, said, follow=True)
    assert b"Lead rope is on the next invoice." in account.content
    charge = Charge.objects.get()
    back = reverse("billing:charge-take-back", args=[charge.pk])
    assert back.encode() in account.content
    assert as_owner_manager.get(back).status_code == 200
    assert as_owner_manager.post(back, {"reason": ""}).status_code == 422
    assert b"Taken back: Lead rope." in as_owner_manager.post(back, {"reason": "given away"}, follow=True).content


@pytest.mark.parametrize("name", ["charge-new", "charge-take-back"])
def test_only_who_changes_money(payer, as_owner_manager, as_assistant, client, name):
    by = get_user(as_owner_manager)
    pk = payer.pk if name == "charge-new" else charged(payer, by).pk
    page = reverse(f"billing:{name}", args=[pk])
    assert client.get(page).status_code == 302
    assert as_assistant.get(page).status_code == 403
    assert as_owner_manager.get(page).status_code == 200
