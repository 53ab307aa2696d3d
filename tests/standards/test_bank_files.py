"""Files of banks in the open formats, read as their own examples say; what is wrong is refused and says where.

Sources: camt.053 (ISO 20022) samples of the OCA bank-statement-import tests, OFX samples of ofxparse, in
`../shared/data` with their licences; the values stand here too.
"""

import os
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from billing.banking.lines import BadFile
from billing.banking.plain import DayOrder
from billing.banking.reading import read_file

SHARED = Path(os.environ.get("SHARED_DATA", Path(__file__).resolve().parents[3] / "shared" / "data"))
is_here = pytest.mark.skipif(not (SHARED / "camt").exists(), reason="the sample files of ../shared are not here")


def reading(*path: str):
    return read_file(SHARED.joinpath(*path).read_bytes(), DayOrder.MONTH_FIRST)


@is_here
def test_two_statements_of_one_account_move_as_their_balances_do():
    """18.15 + 8.85 = 27.00; 27.00 − 7.00 = 20.00."""
    found = reading("camt", "camt053.v2.multi.statement.xml")
    assert (found.account, found.currency) == ("NL26VAYB8060476890", "EUR")
    assert [move.amount for move in found.moves] == [Decimal("8.85"), Decimal("-7.00")]
    assert Decimal("18.15") + found.moves[0].amount == Decimal("27.00")
    assert Decimal("27.00") + found.moves[1].amount == Decimal("20.00")
    assert found.moves[1].name == "Company Name 2"


@is_here
@pytest.mark.parametrize("version", ["v2.minimal", "v3", "v4", "v8"])
def test_each_version_says_the_same(version):
    found = reading("camt", f"camt053.{version}.xml")
    (move,) = found.moves
    assert (move.amount, move.day, move.name) == (Decimal("8.85"), date(2014, 12, 31), "NAME NAME")


@is_here
def test_what_is_no_statement_is_refused():
    with pytest.raises(BadFile, match="no bank statement"):
        reading("camt", "camt053.v2.wrong.xml")


@is_here
def test_an_ofx_file_sums_to_what_its_bank_says():
    """−6.60, −316.67, −22.00: −345.27, in CAD."""
    found = reading("ofx", "bank_medium.ofx")
    assert (found.account, found.currency) == ("12300 000012345678", "CAD")
    assert [move.amount for move in found.moves] == [Decimal("-6.60"), Decimal("-316.67"), Decimal("-22.00")]
    assert sum(move.amount for move in found.moves) == Decimal("-345.27")
    assert len({move.bank_id for move in found.moves}) == 3


@is_here
def test_a_file_that_breaks_a_length_rule_of_ofx_is_still_read():
    found = reading("ofx", "checking.ofx")
    assert [move.amount for move in found.moves] == [Decimal("0.01"), Decimal("-34.51"), Decimal("-25.00")]


@is_here
@pytest.mark.parametrize("name", ["date_missing.ofx", "decimal_error.ofx"])
def test_an_entry_that_cannot_be_read_is_named(name):
    """One says no day; the other has the day 2011-20-12 and the amount $120."""
    with pytest.raises(BadFile, match="Entry 1 has no day"):
        reading("ofx", "fail_nice", name)
