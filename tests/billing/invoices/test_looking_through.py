"""What is finished with is noted, so that pages need not read ten years; whatever opens it again is found at once."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from billing.invoices import verification
from billing.invoices.actions import confirm_charges
from billing.invoices.by_hand import take_charge_back
from billing.invoices.crediting import credit_invoice
from billing.invoices.looking_through import look_through
from billing.invoices.models import Charge, ChargeShare, Invoice
from billing.invoices.queries import (
    lines_of,
    owed_invoices,
    shares_to_invoice,
    uncharged_days,
    uncharged_sessions,
)
from billing.invoices.writing_off import take_up_again, write_off
from billing.journal.models import LookedThrough
from billing.payments.actions import take_payment
from billing.payments.banking import note_returned_check
from billing.payments.models import Payment
from billing.prices.actions import record_rate
from billing.prices.models import CallOutRule
from tests.factories.billing import (
    AT,
    DAY,
    confirmed_work,
    finished_visit,
    issued_invoice,
    owned_horse,
    priced_service,
    visit_row,
)
from tests.factories.clients import PersonFactory

pytestmark = pytest.mark.usefixtures("private_folder")
NIGHT = AT + timedelta(days=1)


@pytest.fixture
def payer(business):
    return PersonFactory(name="Desmond Quarrie")


def pay(invoice, by, method=Payment.Method.CASH):
    return take_payment(
        payer=invoice.payer,
        amount=invoice.total,
        method=method,
        received_on=DAY,
        allocations={invoice: invoice.total},
        at=AT,
        by=by,
    )


def faults():
    return list(verification.faults_of_what_was_looked_through())


def test_it_ends_the_day_before_the_first_that_waits(payer, owner_manager):
    assert look_through(at=NIGHT).day == DAY
    finished_visit(owned_horse(payer), priced_service(), day=DAY - timedelta(days=9))
    assert look_through(at=NIGHT).day == DAY - timedelta(days=10)
    assert uncharged_days(DAY) == [DAY - timedelta(days=9)]
    confirm_charges(day=DAY - timedelta(days=9), at=AT, by=owner_manager)
    assert look_through(at=NIGHT).day == DAY
    assert LookedThrough.objects.count() == 1


def test_a_booked_visit_that_nobody_wrote_up_holds_it_back(payer):
    visit_row(owned_horse(payer), priced_service(), status="booked", day=DAY - timedelta(days=3))
    assert look_through(at=NIGHT).day == DAY - timedelta(days=4)


def test_work_written_up_after_it_is_found(payer):
    look_through(at=NIGHT)
    finished_visit(owned_horse(payer), priced_service(), day=DAY, completed_at=NIGHT + timedelta(minutes=5))
    assert uncharged_days(DAY) == [DAY]
    assert uncharged_sessions().count() == 1


def test_a_charge_taken_back_opens_its_day_again(payer, owner_manager):
    (charge,) = confirmed_work(payer, owner_manager)
    look_through(at=NIGHT)
    take_charge_back(charge=charge, reason="wrong horse", at=NIGHT, by=owner_manager)
    assert uncharged_days(DAY) == [DAY]


def test_work_charged_anew_after_a_credit_note_opens_its_day_again(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    look_through(at=NIGHT)
    (line,) = lines_of(invoice)
    credit_invoice(
        invoice=invoice, amounts={line: line.amount}, reason="x", anew=[line], on=DAY, at=AT, by=owner_manager
    )
    assert uncharged_sessions().count() == 1


def test_a_call_out_rule_of_an_earlier_day_has_it_look_again(payer, owner_manager):
    confirmed_work(payer, owner_manager)
    look_through(at=NIGHT)
    assert uncharged_days(DAY) == []
    rule = CallOutRule(amount=Decimal("30.00"), split=CallOutRule.Split.HORSE, since=date(2026, 1, 1))
    record_rate(rate=rule, at=AT, by=owner_manager)
    assert uncharged_days(DAY) == [DAY]


def test_what_is_paid_is_settled_until_its_check_comes_back(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    check = pay(invoice, owner_manager, Payment.Method.CHECK)
    look_through(at=NIGHT)
    assert Invoice.objects.get(pk=invoice.pk).is_settled
    assert list(owed_invoices()) == []
    note_returned_check(payment=check, reason="no funds", on=DAY, at=AT, by=owner_manager)
    assert list(owed_invoices()) == [invoice]
    assert faults() == []


def test_what_is_written_off_is_settled_until_it_is_asked_for_again(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    given_up = write_off(invoice=invoice, reason="moved away", on=DAY, at=AT, by=owner_manager)
    look_through(at=NIGHT)
    assert Invoice.objects.get(pk=invoice.pk).is_settled
    take_up_again(given_up=given_up, on=DAY, at=AT, by=owner_manager)
    assert list(owed_invoices()) == [invoice]
    assert faults() == []


def test_only_shares_on_issued_paper_are_left_out(payer, owner_manager):
    issued_invoice(payer, owner_manager)
    confirmed_work(PersonFactory(), owner_manager)
    look_through(at=NIGHT)
    assert sorted(ChargeShare.objects.values_list("is_on_paper", flat=True)) == [False, True]
    assert shares_to_invoice().count() == 1


def test_verify_finds_what_was_noted_wrongly(payer, owner_manager):
    invoice = issued_invoice(payer, owner_manager)
    confirmed_work(PersonFactory(), owner_manager)
    look_through(at=NIGHT)
    assert faults() == []
    Invoice.objects.update(is_settled=True)
    ChargeShare.objects.update(is_on_paper=True)
    Charge.objects.filter(shares__line=None).update(state=Charge.State.TAKEN_BACK)
    said = " ".join(faults())
    assert f"{invoice} is noted as settled, with 95" in said
    assert "is noted as on paper, and is on none" in said
    assert "waits to be charged, and its day was looked through" in said
