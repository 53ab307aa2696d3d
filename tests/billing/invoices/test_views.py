from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from billing.invoices.models import Charge, Invoice
from tests.factories.billing import (
    AT,
    DAY,
    CallOutRuleFactory,
    confirmed_work,
    draft_for,
    finished_visit,
    issued_invoice,
    owned_horse,
    priced_service,
    stop_of,
)
from tests.factories.clients import PersonFactory, ServiceFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(AT, tick=False):
        yield


def typed(response, **changes: str) -> dict[str, str]:
    """What the browser would send back: every row's amount as it stands, and the changes."""
    posted = {}
    for form in response.context["forms"]:
        posted[f"{form.prefix}-amount"] = str(form["amount"].value())
        posted[f"{form.prefix}-reason"] = ""
    return {**posted, **changes}


def confirm_address() -> str:
    return reverse("billing:charges-confirm", args=[DAY.isoformat()])


class TestNotYetCharged:
    def test_lists_the_day_with_its_reasons_and_total(self, as_bookkeeper):
        CallOutRuleFactory()
        stop_of(owned_horse(PersonFactory(name="Desmond Quarrie")), owned_horse(PersonFactory()))
        page = as_bookkeeper.get(reverse("billing:uncharged")).content.decode()
        assert "Desmond Quarrie" in page
        assert "second horse at the stop: $30.00 / 2" in page
        assert "$220.00" in page

    def test_confirms_all_that_the_page_showed(self, as_owner_manager):
        stop_of(owned_horse(PersonFactory()), owned_horse(PersonFactory()))
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        response = as_owner_manager.post(confirm_address(), typed(shown), follow=True)
        assert "2 charges of Mon 2 Mar confirmed." in response.content.decode()
        assert "All finished work is charged" in response.content.decode()

    def test_what_came_up_since_the_page_was_opened_stays(self, as_owner_manager):
        stop_of(owned_horse(PersonFactory()))
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        finished_visit(owned_horse(PersonFactory()), priced_service())
        as_owner_manager.post(confirm_address(), typed(shown))
        assert Charge.objects.count() == 1

    def test_a_changed_amount_without_a_reason_is_said_at_its_field_and_nothing_typed_is_lost(self, as_owner_manager):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        key = shown.context["forms"][0].prefix
        response = as_owner_manager.post(confirm_address(), typed(shown, **{f"{key}-amount": "40.00"}))
        assert response.status_code == 422
        page = response.content.decode()
        assert "The rule gives $95.00. Say why it is $40.00." in page
        assert 'value="40.00"' in page
        assert not Charge.objects.exists()

    @pytest.mark.parametrize(
        ("amount", "sentence"),
        [
            ("-0.01", "Write 0 or more."),
            ("10000000", "Write 1,000,000 or less."),
            ("10.005", "Write an amount in figures, such as 95.00."),
            ("ninety", "Write an amount in figures, such as 95.00."),
            ("", "Amount is missing."),
            ("NaN", "Write an amount in figures, such as 95.00."),
        ],
    )
    def test_an_absurd_amount_gets_a_sentence(self, as_owner_manager, amount, sentence):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        key = shown.context["forms"][0].prefix
        response = as_owner_manager.post(confirm_address(), typed(shown, **{f"{key}-amount": amount}))
        assert response.status_code == 422
        assert sentence in response.content.decode()

    @pytest.mark.parametrize("reason", ["x" * 400, "<script>alert(1)</script>" + "x" * 300])
    def test_a_very_long_reason_gets_a_sentence_and_is_never_run(self, as_owner_manager, reason):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        key = shown.context["forms"][0].prefix
        response = as_owner_manager.post(confirm_address(), typed(shown, **{f"{key}-reason": reason}))
        assert response.status_code == 422
        assert "at most 300 characters" in response.content.decode()
        assert "<script>alert" not in response.content.decode()

    def test_a_change_with_its_reason_is_kept_in_any_script(self, as_owner_manager):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        key = shown.context["forms"][0].prefix
        reason = "نصف الوقت 🐴"
        as_owner_manager.post(confirm_address(), typed(shown, **{f"{key}-amount": "40", f"{key}-reason": reason}))
        charge = Charge.objects.get()
        assert (charge.amount, charge.changed_reason) == (Decimal("40"), reason)

    def test_waiving_asks_for_a_reason_and_keeps_what_was_typed_elsewhere(self, as_owner_manager):
        horse = owned_horse(PersonFactory())
        finished_visit(horse, priced_service())
        finished_visit(horse, priced_service(), part=2)
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        first, second = (form.prefix for form in shown.context["forms"])
        address = reverse("billing:charge-waive", args=[DAY.isoformat(), first])
        response = as_owner_manager.post(address, typed(shown, **{f"{second}-amount": "12.00"}))
        assert response.status_code == 422
        page = response.content.decode()
        assert "Say why you let it go." in page
        assert 'value="12.00"' in page
        assert "Say why it is $12.00" not in page

    def test_waives_with_a_reason(self, as_owner_manager):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        key = shown.context["forms"][0].prefix
        address = reverse("billing:charge-waive", args=[DAY.isoformat(), key])
        as_owner_manager.post(address, typed(shown, **{f"{key}-reason": "A gift"}))
        assert Charge.objects.get().waived_reason == "A gift"

    def test_waiving_what_is_gone_is_refused_with_a_sentence(self, as_owner_manager):
        response = as_owner_manager.post(reverse("billing:charge-waive", args=[DAY.isoformat(), "session-99"]))
        assert response.status_code == 409
        assert "charged or waived already" in response.content.decode()

    def test_a_missing_price_is_named_and_can_be_typed(self, as_owner_manager):
        finished_visit(owned_horse(PersonFactory()), ServiceFactory(name="Massage"))
        shown = as_owner_manager.get(reverse("billing:uncharged"))
        assert "No price of Massage is recorded" in shown.content.decode()
        key = shown.context["forms"][0].prefix
        as_owner_manager.post(confirm_address(), {f"{key}-amount": "70", f"{key}-reason": "agreed"})
        assert Charge.objects.get().amount == 70

    @pytest.mark.parametrize("day", ["tomorrow", "1926-13-01"])
    def test_a_day_that_is_none_is_not_found(self, as_owner_manager, day):
        assert as_owner_manager.get(reverse("billing:uncharged"), {"day": day}).status_code == 404


class TestInvoices:
    def test_from_confirmed_work_to_an_issued_invoice(self, as_owner_manager, owner_manager):
        confirmed_work(PersonFactory(name="Ottilie"), owner_manager)
        draft = as_owner_manager.post(reverse("billing:invoices-draft"), follow=True)
        assert "Draft for Ottilie" in draft.content.decode()
        assert "Ask your local tax office." in draft.content.decode()
        invoice = Invoice.objects.get()
        issued = as_owner_manager.post(reverse("billing:invoice-issue", args=[invoice.pk]), follow=True)
        assert "Invoice 2026-0001 is issued." in issued.content.decode()
        pdf = as_owner_manager.get(reverse("backoffice:document", args=[Invoice.objects.get().document_id]))
        assert pdf.content.startswith(b"%PDF")

    def test_a_draft_can_be_thrown_away(self, as_owner_manager, owner_manager):
        draft = draft_for(PersonFactory(), owner_manager)
        response = as_owner_manager.post(reverse("billing:invoice-discard", args=[draft.pk]), follow=True)
        assert "is thrown away" in response.content.decode()
        assert not Invoice.objects.exists()

    def test_issuing_from_an_old_page_is_refused_with_a_sentence(self, as_owner_manager, owner_manager):
        invoice = issued_invoice(PersonFactory(), owner_manager)
        response = as_owner_manager.post(reverse("billing:invoice-issue", args=[invoice.pk]))
        assert response.status_code == 409
        assert "Only a draft can be issued." in response.content.decode()

    def test_the_page_shows_state_lines_and_reasons(self, as_bookkeeper, owner_manager):
        invoice = issued_invoice(PersonFactory(), owner_manager)
        page = as_bookkeeper.get(reverse("billing:invoice", args=[invoice.pk])).content.decode()
        assert "due" in page
        assert "Standard price from 1 Jan 2026" in page
        assert "Take a payment" in page

    def test_the_list_finds_by_name_number_horse_and_state(self, as_owner_manager, owner_manager):
        issued_invoice(PersonFactory(name="Ottilie"), owner_manager)
        issued_invoice(PersonFactory(name="Desmond"), owner_manager, "45.00")
        address = reverse("billing:invoices")
        assert "Desmond" not in as_owner_manager.get(address, {"q": "ottilie"}).content.decode()
        assert "Ottilie" in as_owner_manager.get(address, {"q": "Biscuit ottilie"}).content.decode()
        assert "Ottilie" not in as_owner_manager.get(address, {"shown": "paid"}).content.decode()
        assert "Ottilie" in as_owner_manager.get(address, {"shown": "due", "sort": "-open"}).content.decode()

    def test_the_list_can_be_taken_away_as_a_file(self, as_owner_manager, owner_manager):
        issued_invoice(PersonFactory(name="Ottilie"), owner_manager)
        content = as_owner_manager.get(reverse("billing:invoices"), {"_export": "csv"}).content.decode()
        assert "2026-0001" in content
        assert "95" in content

    def test_the_list_takes_the_same_queries_at_1_and_at_30_rows(
        self, as_owner_manager, owner_manager, django_assert_num_queries
    ):
        issued_invoice(PersonFactory(), owner_manager)
        with django_assert_num_queries(6):
            as_owner_manager.get(reverse("billing:invoices"))
        for _ in range(29):
            Invoice.objects.create(payer=PersonFactory(), made_at=AT, currency="USD")
        with django_assert_num_queries(6):
            as_owner_manager.get(reverse("billing:invoices"))


@pytest.mark.parametrize("name", ["uncharged", "invoices"])
def test_an_assistant_sees_no_money(as_assistant, name):
    assert as_assistant.get(reverse(f"billing:{name}")).status_code == 403


def test_an_assistant_changes_no_money(as_assistant, owner_manager):
    draft = draft_for(PersonFactory(), owner_manager)
    assert as_assistant.get(reverse("billing:invoice", args=[draft.pk])).status_code == 403
    for name, args in [
        ("invoice-issue", [draft.pk]),
        ("invoice-discard", [draft.pk]),
        ("invoices-draft", []),
        ("charges-confirm", [DAY.isoformat()]),
        ("charge-waive", [DAY.isoformat(), "session-1"]),
    ]:
        assert as_assistant.post(reverse(f"billing:{name}", args=args)).status_code == 403


def test_a_stranger_is_asked_to_sign_in(client, business):
    assert client.get(reverse("billing:uncharged")).status_code == 302
