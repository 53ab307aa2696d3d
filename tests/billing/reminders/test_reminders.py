"""Letters about what is late: by the practitioner's own days and words, sent by a person, stopped by a question."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core import mail
from django.urls import reverse
from django.utils import timezone

from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from billing.invoices.actions import draft_invoices, issue_invoice
from billing.invoices.models import Charge, Invoice, InvoiceRun
from billing.invoices.queries import invoices_shown
from billing.journal.models import Account
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from billing.payments.queries import balance_of
from billing.reminders.actions import (
    add_starter_stages,
    answer_about_money,
    ask_about_money,
    draft_reminders,
    drop_reminder,
    mail_by_rule,
    mail_invoice,
    send_reminder_now,
)
from billing.reminders.letters import private_page
from billing.reminders.models import MoneyQuestion, Reminder, ReminderStage
from billing.reminders.queries import due_for_a_reminder, reminders_waiting
from tests.factories.billing import AT, DAY, issued_invoice
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db(transaction=False), pytest.mark.usefixtures("private_folder")]
LATE = DAY + timedelta(days=14 + 8)
MUCH_LATER = DAY + timedelta(days=14 + 50)


@pytest.fixture
def payer(business):
    return PersonFactory(name="Desmond Quarrie", email="desmond@example.org")


@pytest.fixture
def invoice(payer, owner_manager) -> Invoice:
    return issued_invoice(payer, owner_manager)


@pytest.fixture
def stages(owner_manager):
    return add_starter_stages(at=AT, by=owner_manager)


def at(day: date):
    return AT.replace(year=day.year, month=day.month, day=day.day)


class TestDrafting:
    def test_without_letters_nobody_is_reminded(self, invoice):
        assert draft_reminders(on=MUCH_LATER, at=at(MUCH_LATER)) == []

    def test_a_late_invoice_gets_each_letter_once(self, invoice, stages):
        assert draft_reminders(on=DAY + timedelta(days=14 + 6), at=AT) == []
        (first,) = draft_reminders(on=LATE, at=at(LATE))
        assert first.stage.days == 7
        assert first.text.startswith("Hello Desmond Quarrie, Invoice 2026-0001 over $95.00 was due on Mon 16 Mar")
        assert draft_reminders(on=LATE, at=at(LATE)) == []

    def test_a_letter_that_came_too_late_gives_way_to_the_next(self, invoice, stages):
        draft_reminders(on=LATE, at=at(LATE))
        (second,) = draft_reminders(on=MUCH_LATER, at=at(MUCH_LATER))
        assert second.stage.days == 45
        assert list(Reminder.objects.values_list("state", flat=True)) == ["dropped", "drafted"]

    def test_a_paid_invoice_and_a_payer_who_asked_are_left_alone(self, invoice, payer, stages, owner_manager):
        question = ask_about_money(person=payer, text="Was it not two sessions?", at=AT)
        assert due_for_a_reminder(LATE) == []
        answer_about_money(question=question, answer="Three, see the sheet.", at=AT, by=owner_manager)
        assert len(draft_reminders(on=LATE, at=at(LATE))) == 1
        take_payment(
            payer=payer,
            amount=Decimal("95.00"),
            method=Payment.Method.CASH,
            received_on=DAY,
            allocations={invoice: Decimal("95.00")},
            at=AT,
            by=owner_manager,
        )
        assert reminders_waiting(LATE) == []
        assert due_for_a_reminder(MUCH_LATER) == []


class TestSending:
    def test_it_is_mailed_with_the_invoice_and_the_private_page(
        self, invoice, stages, owner_manager, time_machine, django_capture_on_commit_callbacks
    ):
        time_machine.move_to(at(LATE))
        (draft,) = draft_reminders(on=LATE, at=at(LATE))
        with django_capture_on_commit_callbacks(execute=True):
            send_reminder_now(reminder=draft, by_mail=True, at=at(LATE), by=owner_manager)
        (letter,) = mail.outbox
        assert letter.to == ["desmond@example.org"]
        assert "/p/money/" in letter.body
        assert letter.attachments[0][0] == "Invoice_2026-0001.pdf"
        with pytest.raises(Refused, match="already"):
            send_reminder_now(reminder=draft, by_mail=True, at=at(LATE), by=owner_manager)

    def test_it_is_not_sent_when_nothing_is_open_or_something_was_asked(self, invoice, payer, stages, owner_manager):
        (draft,) = draft_reminders(on=LATE, at=at(LATE))
        question = ask_about_money(person=payer, text="Why?", at=AT)
        with pytest.raises(Refused, match="Answer first"):
            send_reminder_now(reminder=draft, by_mail=False, at=at(LATE), by=owner_manager)
        answer_about_money(question=question, answer="So.", at=AT, by=owner_manager)
        take_payment(
            payer=payer,
            amount=Decimal("95.00"),
            method=Payment.Method.CASH,
            received_on=DAY,
            allocations={invoice: Decimal("95.00")},
            at=AT,
            by=owner_manager,
        )
        with pytest.raises(Refused, match="Nothing of this invoice is open"):
            send_reminder_now(reminder=draft, by_mail=False, at=at(LATE), by=owner_manager)

    def test_a_fee_is_only_there_where_one_was_set_and_waits_for_the_next_invoice(
        self, invoice, payer, stages, owner_manager
    ):
        ReminderStage.objects.filter(days=7).update(late_fee=Decimal("10.00"))
        (draft,) = draft_reminders(on=LATE, at=at(LATE))
        sent = send_reminder_now(reminder=draft, by_mail=False, at=at(LATE), by=owner_manager)
        assert (sent.fee.kind, sent.fee.amount) == (Charge.Kind.LATE_FEE, 10)
        (bill,) = draft_invoices(at=at(LATE), by=owner_manager, payer=payer)
        issue_invoice(invoice=bill, on=LATE, at=at(LATE), by=owner_manager)
        assert balance_of(Account.INCOME_FEES) == -10

    def test_by_night_only_what_the_rule_lets_go_is_mailed(
        self, invoice, stages, owner_manager, time_machine, django_capture_on_commit_callbacks
    ):
        time_machine.move_to(at(LATE))
        drafts = draft_reminders(on=LATE, at=at(LATE))
        assert mail_by_rule(drafts, at=at(LATE)) == 0
        ReminderStage.objects.update(goes_by_itself=True)
        for draft in drafts:
            draft.stage.refresh_from_db()
        with django_capture_on_commit_callbacks(execute=True):
            assert mail_by_rule(drafts, at=at(LATE)) == 1
        assert len(mail.outbox) == 1
        assert Reminder.objects.get().settled_by is None

    def test_one_can_be_left_out(self, invoice, stages, owner_manager):
        (draft,) = draft_reminders(on=LATE, at=at(LATE))
        drop_reminder(reminder=draft, at=AT, by=owner_manager)
        assert reminders_waiting(LATE) == []
        assert draft_reminders(on=LATE, at=at(LATE)) == []


class TestPages:
    def test_letters_are_begun_changed_and_checked(self, as_owner_manager, as_bookkeeper, business):
        where = reverse("billing:reminder-stages")
        as_owner_manager.post(where)
        assert ReminderStage.objects.count() == 3
        stage = ReminderStage.objects.first()
        sent = {"days": "10", "words": "Hello {name}", "late_fee": "5.00", "goes_by_itself": "on"}
        wrong = as_owner_manager.post(reverse("billing:reminder-stage", args=[stage.pk]), sent)
        assert "sent by a person" in wrong.content.decode()
        as_owner_manager.post(reverse("billing:reminder-stage", args=[stage.pk]), {**sent, "goes_by_itself": ""})
        stage.refresh_from_db()
        assert (stage.days, stage.late_fee) == (10, 5)
        assert as_bookkeeper.get(where).status_code == 403

    def test_the_list_drafts_sends_and_drops(self, payer, owner_manager, as_owner_manager, as_assistant, stages):
        today = date.today()
        issued_invoice(payer, owner_manager)
        Invoice.objects.update(due_on=today - timedelta(days=30))
        assert "1 invoice has come to a letter" in as_owner_manager.get(reverse("billing:reminders")).content.decode()
        as_owner_manager.post(reverse("billing:reminders-draft"))
        page = as_owner_manager.get(reverse("billing:reminders")).content.decode()
        assert "Mail it" in page
        draft = Reminder.objects.get()
        as_owner_manager.post(reverse("billing:reminder-send", args=[draft.pk]))
        draft.refresh_from_db()
        assert (draft.state, draft.by_mail) == ("sent", False)
        assert "by hand" in as_owner_manager.get(reverse("billing:reminders")).content.decode()
        assert as_assistant.get(reverse("billing:reminders")).status_code == 403

    def test_a_question_is_answered_on_a_page_of_its_own(
        self, payer, as_owner_manager, django_capture_on_commit_callbacks
    ):
        question = ask_about_money(person=payer, text="Was it not two?", at=AT)
        assert "Was it not two?" in as_owner_manager.get(reverse("backoffice:today")).content.decode()
        with django_capture_on_commit_callbacks(execute=True):
            as_owner_manager.post(reverse("billing:money-question", args=[question.pk]), {"answer": "Three it was."})
        question.refresh_from_db()
        assert question.answer == "Three it was."
        assert mail.outbox[-1].to == ["desmond@example.org"]


class TestOwnerPage:
    @pytest.fixture
    def page(self, payer) -> str:
        return "/" + private_page(payer, at=timezone.now()).split("/", 3)[3]

    def test_it_shows_what_is_owed_and_how_to_pay(self, page, invoice, business, client):
        business.how_to_pay = "Cash at the barn."
        business.save()
        text = client.get(page).content.decode()
        for said in ("$95.00 to pay", "2026-0001", "Cash at the barn."):
            assert said in text, said
        assert client.get(f"{page}paper/invoice/{invoice.pk}/").headers["Content-Type"] == "application/pdf"

    def test_it_shows_no_paper_of_anybody_else(self, page, payer, owner_manager, client):
        other = issued_invoice(PersonFactory(), owner_manager)
        assert client.get(f"{page}paper/invoice/{other.pk}/").status_code == 404
        assert client.get(f"{page}paper/receipt/{other.pk}/").status_code == 404
        assert client.get(f"{page}paper/other/{other.pk}/").status_code == 404
        assert other.name not in client.get(page).content.decode()

    def test_a_wrong_token_and_a_closed_page_show_nothing(self, page, payer, client, as_owner_manager):
        assert client.get("/p/money/nothing/").status_code == 404
        as_owner_manager.post(reverse("billing:payer-page", args=[payer.pk]), {"close": "1"})
        assert client.get(page).status_code == 404

    def test_a_question_stops_reminders_and_too_many_are_refused(self, page, payer, client):
        assert client.post(f"{page}ask/", {"text": ""}).status_code == 422
        for number in range(3):
            client.post(f"{page}ask/", {"text": f"Question {number}"})
        assert MoneyQuestion.objects.filter(person=payer).count() == 3
        assert "wait for an answer already" in client.post(f"{page}ask/", {"text": "One more"}).content.decode()
        assert "Question 1" in client.get(page).content.decode()

    def test_the_practitioner_makes_it_from_the_account(self, payer, as_owner_manager, as_assistant):
        where = reverse("billing:payer-page", args=[payer.pk])
        assert "/p/money/" in as_owner_manager.post(where).content.decode()
        assert "/p/money/" not in as_owner_manager.get(where).content.decode()
        assert PrivateLink.objects.filter(purpose="money", revoked_at=None).count() == 1
        assert as_assistant.get(where).status_code == 403

    def test_it_asks_the_database_as_often_for_one_as_for_many(
        self, page, payer, owner_manager, client, django_assert_num_queries
    ):
        issued_invoice(payer, owner_manager)
        client.get(page)
        with django_assert_num_queries(12):
            client.get(page)
        for _ in range(4):
            issued_invoice(payer, owner_manager)
        with django_assert_num_queries(12):
            client.get(page)
        assert invoices_shown(DAY).filter(payer=payer).count() == 5


class TestMailingInvoices:
    def test_an_issued_invoice_goes_with_its_paper_and_the_page_says_when(
        self, invoice, as_owner_manager, django_capture_on_commit_callbacks
    ):
        page = as_owner_manager.get(invoice.get_absolute_url()).content.decode()
        assert "Mail it" in page
        before = as_owner_manager.get(f"{invoice.get_absolute_url()}mail/").content.decode()
        assert "To desmond@example.org: Invoice 2026-0001" in before
        assert "attached is invoice 2026-0001, $95.00, to be paid by 16 March 2026" in before
        assert "/p/money/…/" in before
        assert (mail.outbox, PrivateLink.objects.count()) == ([], 0)
        as_owner_manager.post(f"{invoice.get_absolute_url()}mail/")
        [letter] = mail.outbox
        assert letter.to == ["desmond@example.org"]
        assert "attached is invoice 2026-0001, $95.00, to be paid by 16 March 2026" in letter.body
        assert "/p/money/" in letter.body
        assert [name for name, _, _ in letter.attachments] == ["Invoice_2026-0001.pdf"]
        page = as_owner_manager.get(invoice.get_absolute_url()).content.decode()
        assert "Mailed" in page
        assert "Mail it again" in page

    def test_without_an_address_or_a_paper_it_is_refused(self, invoice, payer, owner_manager, as_owner_manager):
        payer.email = ""
        payer.save()
        invoice.payer.refresh_from_db()
        with pytest.raises(Refused, match="No mail address of Desmond Quarrie"):
            mail_invoice(invoice=invoice, at=AT, by=owner_manager)
        assert (
            "No mail address"
            in as_owner_manager.get(f"{invoice.get_absolute_url()}mail/", follow=True).content.decode()
        )
        invoice.document = None
        with pytest.raises(Refused, match="Only an issued invoice"):
            mail_invoice(invoice=invoice, at=AT, by=owner_manager)

    def test_those_issued_together_are_mailed_once_where_there_is_an_address(
        self, invoice, owner_manager, as_owner_manager
    ):
        other = issued_invoice(PersonFactory(email=""), owner_manager)
        run = InvoiceRun.objects.create(
            on=DAY,
            total=2,
            issued=2,
            started_at=min(invoice.issued_at, other.issued_at),
            started_by=owner_manager,
            seen_at=timezone.now(),
            ended_at=timezone.now(),
        )
        page = f"/money/invoices/issue/{run.pk}/"
        assert "Mail 1 to payers with an address" in as_owner_manager.get(page).content.decode()
        as_owner_manager.post(f"/money/invoices/runs/{run.pk}/mail/")
        as_owner_manager.post(f"/money/invoices/runs/{run.pk}/mail/")
        assert [letter.to for letter in mail.outbox] == [["desmond@example.org"]]
        assert "Mail 1" not in as_owner_manager.get(page).content.decode()
