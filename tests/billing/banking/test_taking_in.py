"""A file is taken in whole or not at all, once; a line is booked by a person, once."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from backoffice.refusal import Refused
from billing.banking.actions import book_line, put_aside, take_back_aside, take_in
from billing.banking.lines import BankMove, Reading
from billing.banking.models import BankColumns, BankFile, BankLine, PendingFile
from billing.banking.queries import sure_lines
from billing.banking.verification import faults_of_lines
from billing.invoices.queries import invoices_shown
from billing.journal.actions import close_month
from billing.journal.models import Transaction
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from billing.payments.queries import credit_on_account
from billing.payments.verification import faults_of_balances
from tests.factories.billing import AT, DAY, issued_invoice
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]
TABLE = "Date,Name,Text,Amount\n{}\n"


@pytest.fixture
def payer(business):
    return PersonFactory(name="Desmond Quarrie")


@pytest.fixture
def take(owner_manager):
    def take(*moves: BankMove, name: str = "march.ofx", **more) -> BankFile:
        fields = {"format": "OFX", "account": "111", "currency": "USD"}
        fields |= {key: more.pop(key) for key in list(more) if key in fields}
        content = f"{name}{moves}".encode()
        return take_in(
            reading=Reading(moves=moves, **fields), content=content, name=name, at=AT, by=owner_manager, **more
        )

    return take


def move(amount: str, text: str = "", day: date = DAY, **more) -> BankMove:
    return BankMove(day, Decimal(amount), text, **more)


class TestFiles:
    def test_the_same_file_twice_adds_nothing(self, take, business):
        take(move("95.00"))
        with pytest.raises(Refused, match="Nothing is added"):
            take(move("95.00"))
        assert (BankFile.objects.count(), BankLine.objects.count()) == (1, 1)

    def test_overlapping_files_skip_only_as_many_equals_as_exist(self, take):
        take(move("5.00", "feed"), move("5.00", "feed"))
        second = take(move("5.00", "feed"), move("5.00", "feed"), move("5.00", "feed"), name="april.ofx")
        assert (second.added, second.known, BankLine.objects.count()) == (1, 2, 3)

    def test_the_banks_own_number_decides_where_it_has_one(self, take):
        take(move("5.00", "feed", bank_id="a1"))
        second = take(move("5.00", "feed, as told later", bank_id="a1"), move("5.00", "feed", bank_id="a2"), name="b")
        assert (second.added, second.known) == (1, 1)

    def test_another_account_needs_a_word(self, take):
        take(move("5.00"))
        with pytest.raises(Refused, match="of account 222, not of 111"):
            take(move("6.00"), account="222")
        assert BankLine.objects.count() == 1
        take(move("6.00"), account="222", another_account=True)
        take(move("7.00"), account="222", name="b")

    def test_the_account_of_the_settings_counts_from_the_first_file(self, take, business):
        business.iban = "DE89370400440532013000"
        business.save()
        with pytest.raises(Refused, match="of account 111"):
            take(move("5.00"))

    def test_the_same_days_in_another_format_need_a_person(self, take):
        take(move("5.00"))
        with pytest.raises(Refused, match="another format"):
            take(move("5.00", "otherwise"), format="QIF")
        take(move("5.00", "otherwise"), format="QIF", another_format=True)

    @pytest.mark.parametrize(
        ("wrong", "sentence"),
        [
            (move("5.00", currency="EUR"), "in EUR, your books are in USD"),
            (move("5.001"), "more decimals than USD"),
            (move("1e12"), "larger than books can hold"),
        ],
    )
    def test_one_wrong_line_leaves_the_whole_file_out(self, take, wrong, sentence):
        with pytest.raises(Refused, match=sentence):
            take(move("1.00"), wrong)
        assert not BankFile.objects.exists()
        assert not BankLine.objects.exists()

    def test_a_hundred_thousand_lines_are_taken_in_and_known_again(self, take):
        moves = [move(f"{1 + number % 900}.00", f"line {number // 3}") for number in range(100_000)]
        assert take(*moves).added == 100_000
        assert take(*moves[:50_000], name="again").known == 50_000


class TestBooking:
    def test_a_line_becomes_a_payment_once(self, take, payer, owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        take(move("95.00", f"for {invoice.name}"))
        ((line, match),) = sure_lines("USD")
        payment = book_line(line=line, payer=payer, allocations={invoice: match.parts[0][1]}, at=AT, by=owner_manager)
        assert invoices_shown(DAY).get(pk=invoice.pk).shown == "paid"
        assert (payment.method, payment.received_on) == (Payment.Method.TRANSFER, DAY)
        with pytest.raises(Refused, match="already"):
            book_line(line=line, payer=payer, allocations={}, at=AT, by=owner_manager)
        assert Payment.objects.count() == 1
        assert [*faults_of_lines(), *faults_of_balances()] == []

    def test_more_than_all_debts_is_credit_on_account(self, take, payer, owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        take(move("200.00"))
        line = BankLine.objects.get()
        book_line(line=line, payer=payer, allocations={invoice: Decimal("95.00")}, at=AT, by=owner_manager)
        assert credit_on_account(payer) == 105

    def test_a_day_of_a_closed_month_is_booked_in_the_open_one(self, take, payer, owner_manager):
        take(move("95.00", day=date(2026, 1, 20)))
        close_month(month=date(2026, 1, 1), today=DAY, at=AT, by=owner_manager)
        book_line(line=BankLine.objects.get(), payer=payer, allocations={}, at=AT, by=owner_manager)
        assert Transaction.objects.get().day == date(2026, 2, 1)

    def test_two_lines_for_one_invoice_are_not_both_sure(self, take, payer, owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        take(move("95.00", invoice.name), move("95.00", f"again {invoice.name}"))
        assert len(sure_lines("USD")) == 1

    def test_what_is_put_aside_needs_a_word_and_can_wait_again(self, take, owner_manager):
        take(move("5000.00", "loan"))
        line = BankLine.objects.get()
        with pytest.raises(Refused, match="Say what it is"):
            put_aside(line=line, reason=" ", at=AT, by=owner_manager)
        put_aside(line=line, reason="a loan", at=AT, by=owner_manager)
        take_back_aside(line=line, at=AT, by=owner_manager)
        line.refresh_from_db()
        assert (line.state, line.why_aside) == ("waiting", "")
        with pytest.raises(Refused, match="Only what was put aside"):
            take_back_aside(line=line, at=AT, by=owner_manager)

    def test_verify_names_a_line_whose_payment_is_another_amount(self, take, payer, owner_manager):
        take(move("95.00"))
        book_line(line=BankLine.objects.get(), payer=payer, allocations={}, at=AT, by=owner_manager)
        BankLine.objects.update(amount=96)
        assert any("is 96.000, its payment 1 is 95.000" in fault for fault in faults_of_lines())
        BankLine.objects.update(amount=95, state="waiting")
        assert any("says waiting and has a payment" in fault for fault in faults_of_lines())


class TestPages:
    @pytest.fixture
    def upload(self, as_owner_manager):
        def upload(content: str, name: str = "march.csv"):
            file = SimpleUploadedFile(name, content.encode())
            return as_owner_manager.post(reverse("billing:bank-file"), {"file": file})

        return upload

    def test_columns_are_chosen_once(self, upload, as_owner_manager):
        row = "{0:%m/%d/%Y},Desmond Quarrie,x,95.00"
        answer = upload(TABLE.format(row.format(DAY)))
        assert answer.url == reverse("billing:bank-decide", args=[PendingFile.objects.get().pk])
        page = as_owner_manager.get(answer.url).content.decode()
        assert "Desmond Quarrie" in page
        chosen = {"day": "Date", "amount": "Amount", "name": "Name", "text": "Text", "day_order": "mdy", "mark": "."}
        assert as_owner_manager.post(answer.url, chosen).status_code == 302
        assert (BankLine.objects.count(), BankColumns.objects.count(), PendingFile.objects.count()) == (1, 1, 0)
        assert upload(TABLE.format(row.format(DAY + timedelta(days=1)))).url == reverse("billing:bank-file")
        assert BankLine.objects.count() == 2

    def test_a_wrong_choice_is_said_and_nothing_is_lost(self, upload, as_owner_manager):
        where = upload(TABLE.format("03/02/2026,A,x,95.00")).url
        answer = as_owner_manager.post(where, {"day": "Name", "amount": "Amount", "day_order": "mdy", "mark": "."})
        assert answer.status_code == 422
        assert "Line 2: “A” is no day" in answer.content.decode()
        neither = as_owner_manager.post(where, {"day": "Date", "day_order": "mdy", "mark": "."})
        assert "Choose the column of the amount" in neither.content.decode()
        assert not BankLine.objects.exists()
        assert not BankColumns.objects.exists()

    @pytest.mark.parametrize(
        ("content", "sentence"),
        [("", "empty"), ("hello", "no table"), ("<a/>", "no bank statement"), ("<a", "broken")],
    )
    def test_what_is_no_bank_file_is_said_at_the_field(self, upload, content, sentence):
        answer = upload(content)
        assert answer.status_code == 422
        assert sentence in answer.content.decode()
        assert not PendingFile.objects.exists()

    def test_another_account_is_asked_and_answered(self, upload, take, as_owner_manager):
        take(move("5.00"))
        qfx = (
            "<OFX><BANKMSGSRSV1><STMTTRNRS><STMTRS><CURDEF>USD<BANKACCTFROM><ACCTID>222</BANKACCTFROM><BANKTRANLIST>"
            "<STMTTRN><DTPOSTED>20260303<TRNAMT>7.00<FITID>z</STMTTRN></BANKTRANLIST></STMTRS></STMTTRNRS>"
            "</BANKMSGSRSV1></OFX>"
        )
        where = upload(qfx, "b.qfx").url
        assert "of account 222" in as_owner_manager.post(where, {}).content.decode()
        assert as_owner_manager.post(where, {"another_account": "on"}).status_code == 302
        assert BankLine.objects.count() == 2

    def test_the_sure_ones_are_booked_by_one_tap(self, take, payer, owner_manager, as_owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        take(move("95.00", invoice.name), move("12.00", "who knows"))
        page = as_owner_manager.get(reverse("billing:bank-file")).content.decode()
        assert "1 names an invoice and pays exactly what is open." in page
        as_owner_manager.post(reverse("billing:bank-book-sure"))
        assert invoices_shown(DAY).get(pk=invoice.pk).shown == "paid"
        assert BankLine.objects.filter(state="waiting").count() == 1

    def test_a_proposal_is_booked_as_it_was_shown_or_not_at_all(self, take, payer, owner_manager, as_owner_manager):
        invoice = issued_invoice(payer, owner_manager)
        take(move("95.00", name="Desmond Quarrie"))
        line = BankLine.objects.get()
        book = reverse("billing:bank-book", args=[line.pk])
        stale = as_owner_manager.post(book, {"match": f"{payer.pk}:{invoice.pk}=1"})
        assert "has changed meanwhile" in stale.content.decode()
        as_owner_manager.post(book, {"match": f"{payer.pk}:{invoice.pk}=95"})
        line.refresh_from_db()
        assert line.state == "booked"

    def test_a_transfer_taken_by_hand_is_tied_not_booked_twice(self, take, payer, owner_manager, as_owner_manager):
        paid = take_payment(
            payer=payer,
            amount=Decimal("95.00"),
            method=Payment.Method.TRANSFER,
            received_on=DAY,
            allocations={},
            at=AT,
            by=owner_manager,
        )
        take(move("95.00"))
        line = BankLine.objects.get()
        page = as_owner_manager.get(reverse("billing:bank-file")).content.decode()
        assert f"It is Payment {paid.number} of Desmond Quarrie" in page
        as_owner_manager.post(reverse("billing:bank-book", args=[line.pk]), {"match": f"payment-{paid.pk}"})
        line.refresh_from_db()
        assert (line.state, line.payment, Payment.objects.count()) == ("tied", paid, 1)
        assert list(faults_of_lines()) == []

    def test_a_line_that_fits_nothing_is_somebodys_or_put_aside(self, take, payer, as_owner_manager):
        take(move("12.00", "x"), move("13.00", "y"))
        first, second = BankLine.objects.order_by("amount")
        as_owner_manager.post(reverse("billing:bank-line", args=[first.pk]), {"payer": payer.pk, "whose": "1"})
        assert credit_on_account(payer) == 12
        wrong = as_owner_manager.post(reverse("billing:bank-line", args=[second.pk]), {"reason": "", "aside": "1"})
        assert wrong.status_code == 422
        as_owner_manager.post(reverse("billing:bank-line", args=[second.pk]), {"reason": "interest", "aside": "1"})
        page = as_owner_manager.get(reverse("billing:bank-line", args=[second.pk])).content.decode()
        assert "Put aside: interest." in page
        as_owner_manager.post(reverse("billing:bank-wait-again", args=[second.pk]))
        assert as_owner_manager.get(reverse("billing:bank-lines") + "?state=waiting").status_code == 200

    def test_lists_ask_the_database_as_often_for_one_as_for_twenty(
        self, take, payer, owner_manager, as_owner_manager, django_assert_num_queries
    ):
        issued_invoice(payer, owner_manager)
        take(*[move("95.00", f"line {number}") for number in range(20)])
        with django_assert_num_queries(18):
            as_owner_manager.get(reverse("billing:bank-file"))
        BankLine.objects.exclude(pk=BankLine.objects.first().pk).delete()
        with django_assert_num_queries(18):
            as_owner_manager.get(reverse("billing:bank-file"))

    @pytest.mark.parametrize("page", ["bank-file", "bank-lines"])
    def test_an_assistant_sees_no_bank(self, as_assistant, page):
        assert as_assistant.get(reverse(f"billing:{page}")).status_code == 403
