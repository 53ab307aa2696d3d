"""The four formats, and what is no bank file at all."""

from datetime import date
from decimal import Decimal

import pytest

from billing.banking.columns import Columns, guessed, read_columns, read_sheet
from billing.banking.lines import BadFile
from billing.banking.plain import DayOrder, amount_of, day_of, mark_of, order_of
from billing.banking.reading import read_file

CAMT = """<?xml version="1.0"?><Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.08"><BkToCstmrStmt><Stmt>
<Acct><Id><IBAN>DE89370400440532013000</IBAN></Id><Ccy>EUR</Ccy></Acct>%s</Stmt></BkToCstmrStmt></Document>"""
ENTRY = """<Ntry><Amt Ccy="%(currency)s">%(amount)s</Amt><CdtDbtInd>%(way)s</CdtDbtInd><Sts><Cd>%(status)s</Cd></Sts>
<BookgDt><Dt>2026-03-02</Dt></BookgDt>%(details)s</Ntry>"""


def camt(*entries: dict) -> bytes:
    base = {"currency": "EUR", "amount": "95.00", "way": "CRDT", "status": "BOOK", "details": ""}
    return (CAMT % "".join(ENTRY % (base | entry) for entry in entries)).encode()


def amounts(content: bytes) -> list[Decimal]:
    return [move.amount for move in read_file(content, DayOrder.MONTH_FIRST).moves]


class TestCamt:
    def test_only_what_is_booked_counts_and_a_reversal_turns_round(self):
        reversal = {"way": "DBIT", "details": "<RvslInd>true</RvslInd>", "amount": "7"}
        pending = {"status": "PDNG"}
        assert amounts(camt({}, {"way": "DBIT", "amount": "5.00"}, reversal, pending)) == [95, -5, 7]

    def test_a_batch_is_told_part_by_part_where_the_parts_add_up(self):
        part = '<TxDtls><Amt Ccy="EUR">%s</Amt><RltdPties><Dbtr><Nm>%s</Nm></Dbtr></RltdPties></TxDtls>'
        both = f"<NtryDtls>{part % ('60.00', 'Ann')}{part % ('35.00', 'Ben')}</NtryDtls>"
        assert amounts(camt({"details": both})) == [60, 35]
        short = f"<NtryDtls>{part % ('60.00', 'Ann')}{part % ('34.00', 'Ben')}</NtryDtls>"
        assert amounts(camt({"details": short})) == [95]

    @pytest.mark.parametrize(
        ("entry", "sentence"),
        [
            ({"amount": "ninety"}, "Line 2 has no amount"),
            ({"amount": "-1"}, "has no amount"),
            ({"amount": "NaN"}, "has no amount"),
            ({"way": "WHAT"}, "whether money came in"),
        ],
    )
    def test_an_entry_that_cannot_be_read_is_named_by_its_line(self, entry, sentence):
        with pytest.raises(BadFile, match=sentence):
            amounts(camt(entry))

    def test_two_currencies_are_refused(self):
        with pytest.raises(BadFile, match="several currencies: EUR, USD"):
            amounts(camt({}, {"currency": "USD"}))

    def test_broken_xml_and_an_xml_bomb_are_refused(self):
        with pytest.raises(BadFile, match="broken"):
            amounts(camt({})[:-20])
        levels = "".join(f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' for n in range(1, 12))
        bomb = f'<?xml version="1.0"?><!DOCTYPE d [<!ENTITY l0 "lol">{levels}]><Document>&l11;</Document>'
        with pytest.raises(BadFile):
            amounts(bomb.encode())

    def test_a_file_of_the_machine_is_not_read_for_anybody(self, tmp_path):
        secret = tmp_path / "secret"
        secret.write_text("a secret")
        content = camt({}).replace(
            b'<?xml version="1.0"?>', b'<!DOCTYPE d [<!ENTITY x SYSTEM "file://%s">]>' % str(secret).encode()
        )
        with pytest.raises(BadFile, match="no document type"):
            amounts(content)


class TestQif:
    def test_entries_of_a_bank_account_are_read_with_the_order_that_their_days_allow(self):
        text = "!Type:Bank\nD31/3'26\nT1,095.00\nPO Brackwater\nM2026-0001\nN77\n^\nD4/12/2026\nT-5.00\n^\n"
        moves = read_file(text.encode(), DayOrder.MONTH_FIRST).moves
        assert [(move.day, move.amount) for move in moves] == [
            (date(2026, 3, 31), Decimal("1095.00")),
            (date(2026, 12, 4), Decimal("-5.00")),
        ]
        assert (moves[0].name, moves[0].text, moves[0].reference) == ("O Brackwater", "2026-0001", "77")

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [
            ("!Type:Invst\nD1/1/26\n^\n", "holds no entry"),
            ("!Type:Bank\nD1/1/26\nTlots\n^\n", "Line 2: “lots” cannot be read"),
            ("!Type:Bank\nT5.00\n^\n", "Line 2"),
        ],
    )
    def test_what_is_wrong_is_named_by_its_line(self, text, sentence):
        with pytest.raises(BadFile, match=sentence):
            read_file(text.encode(), DayOrder.MONTH_FIRST)


class TestTables:
    TABLE = "My bank\nDate;Payee;Details;Amount\n31.03.2026;O Brackwater;2026-0001;1.095,00\n1.4.2026;Vet;;-5,00\n"

    def test_the_heading_is_found_and_the_columns_are_guessed(self):
        sheet = read_sheet(self.TABLE)
        assert sheet.heading == ("Date", "Payee", "Details", "Amount")
        assert guessed(sheet) == {"day": "Date", "amount": "Amount", "name": "Payee", "text": "Details"}

    def test_a_table_is_read_by_the_columns_that_were_chosen(self):
        columns = Columns(day="Date", amount="Amount", name="Payee", text="Details", day_order="dmy", mark=",")
        moves = read_columns(read_sheet(self.TABLE), columns).moves
        assert [(move.day, move.amount) for move in moves] == [
            (date(2026, 3, 31), Decimal("1095.00")),
            (date(2026, 4, 1), Decimal("-5.00")),
        ]

    def test_paid_in_and_paid_out_stand_in_columns_of_their_own(self):
        text = 'Date,Description,Money In,Money Out\n03/02/2026,"A, B",95.00,\n03/03/2026,Feed,,12.50\n'
        sheet = read_sheet(text)
        assert guessed(sheet)["paid_in"] == "Money In"
        columns = Columns(day="Date", paid_in="Money In", paid_out="Money Out", text="Description")
        assert [move.amount for move in read_columns(sheet, columns).moves] == [Decimal("95.00"), Decimal("-12.50")]

    @pytest.mark.parametrize(
        ("row", "sentence"),
        [
            ("2026-99-01;x;y;5", "Line 2: “2026-99-01” is no day"),
            ("1.3.2026;x;y;five", "Line 2: “five” is no amount"),
            ("1.3.2026;x;y;", "Line 2 has no amount"),
        ],
    )
    def test_a_row_that_cannot_be_read_is_named_by_its_line(self, row, sentence):
        sheet = read_sheet(f"Date;Payee;Details;Amount\n{row}\n")
        with pytest.raises(BadFile, match=sentence):
            read_columns(sheet, Columns(day="Date", amount="Amount", day_order="dmy"))

    def test_what_is_no_table_is_refused(self):
        for content in (b"", b"  \n", b"hello", b"a,b\n1,2\n", b"\x89PNG\x00\x00"):
            with pytest.raises(BadFile):
                read_file(content, DayOrder.MONTH_FIRST)


@pytest.mark.parametrize(
    ("told", "mark", "amount"),
    [
        ("1,234.56", ".", "1234.56"),
        ("1.234,56", ",", "1234.56"),
        ("(5.00)", ".", "-5.00"),
        ("5.00-", ".", "-5.00"),
        ("$ 5", ".", "5"),
        ("−7,5", ",", "-7.5"),
    ],
)
def test_amounts_as_banks_write_them(told, mark, amount):
    assert amount_of(told, mark) == Decimal(amount)


def test_the_mark_and_the_order_are_told_by_the_file():
    assert (mark_of(["1.000", "5,20"]), mark_of(["5"])) == (",", ".")
    assert order_of(["03/31/2026", "01/02/2026"], DayOrder.DAY_FIRST) == DayOrder.MONTH_FIRST
    assert day_of("20260331", DayOrder.DAY_FIRST) == date(2026, 3, 31)
