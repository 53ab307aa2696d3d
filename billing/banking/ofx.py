"""OFX as banks write it (1.x in SGML, 2.x in XML): parsed by `ofxtools`, read tolerantly. Pure."""

import warnings
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from io import BytesIO
from typing import Any

from billing.banking.lines import BadFile, BankMove, Reading, words

HEADER = (
    b"OFXHEADER:100\r\nDATA:OFXSGML\r\nVERSION:102\r\nSECURITY:NONE\r\nENCODING:UTF-8\r\nCHARSET:NONE\r\n"
    b"COMPRESSION:NONE\r\nOLDFILEUID:NONE\r\nNEWFILEUID:NONE\r\n\r\n"
)


def read_ofx(content: bytes) -> Reading:
    """The bank's own checks of lengths and codes are not asked: many files break them and are still plain."""
    from ofxtools.Parser import OFXTree

    tree = OFXTree()
    if content.lstrip().startswith(b"<OFX>"):  # some banks leave the header out
        content = HEADER + content.lstrip()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            tree.parse(BytesIO(content))
    except Exception as wrong:
        raise BadFile(f"This is no OFX file that can be read: {_first_line(wrong)}") from wrong
    root: Any = tree.getroot()
    statements = [*root.iter("STMTRS"), *root.iter("CCSTMTRS")]
    if not statements:
        raise BadFile("This OFX file holds no statement of an account.")
    accounts = {_said(each, ".//ACCTID") for each in statements}
    if len(accounts) > 1:
        raise BadFile("This file holds statements of several accounts. Ask your bank for one account at a time.")
    moves = [
        _move(entry, number, currency=_said(statement, "CURDEF"))
        for statement in statements
        for number, entry in enumerate(statement.iter("STMTTRN"), start=1)
    ]
    return Reading("OFX", accounts.pop(), _said(statements[0], "CURDEF"), moves)


def _move(entry: Any, number: int, *, currency: str) -> BankMove:
    name = _said(entry, "NAME") or _said(entry, "PAYEE/NAME")
    return BankMove(
        day=_day(_said(entry, "DTPOSTED"), number),
        amount=_amount(_said(entry, "TRNAMT"), number),
        text=words(_said(entry, "MEMO")),
        name=name,
        reference=_said(entry, "REFNUM") or _said(entry, "CHECKNUM"),
        bank_id=_said(entry, "FITID"),
        currency=_said(entry, "CURRENCY/CURSYM") or currency,
    )


def _day(told: str, number: int) -> date:
    """The day as the bank wrote it: its own day, whatever the zone behind it."""
    try:
        return datetime.strptime(told[:8], "%Y%m%d").date()  # noqa: DTZ007 - a day, not a moment
    except ValueError:
        raise BadFile(f"Entry {number} has no day that can be read.") from None


def _amount(told: str, number: int) -> Decimal:
    try:
        amount = Decimal(told.replace(",", "."))
    except InvalidOperation:
        amount = Decimal("NaN")
    if not amount.is_finite():
        raise BadFile(f"Entry {number} has no amount that can be read.")
    return amount


def _said(element: Any, path: str) -> str:
    return " ".join((element.findtext(path) or "").split())


def _first_line(wrong: Exception) -> str:
    return (str(wrong).strip().splitlines() or ["it is empty"])[0][:120].rstrip(":.") + "."
