"""A bank's file, whichever of the four formats it has. Pure."""

from billing.banking.camt import read_camt
from billing.banking.columns import Sheet, read_sheet
from billing.banking.lines import BadFile, Reading
from billing.banking.ofx import read_ofx
from billing.banking.plain import DayOrder
from billing.banking.qif import read_qif


def read_file(content: bytes, order: DayOrder) -> Reading | Sheet:
    """A reading; of a table, the sheet whose columns are still to be chosen. Raises BadFile."""
    if not content.strip():
        raise BadFile("This file is empty.")
    start = content.lstrip(b"\xef\xbb\xbf \t\r\n")[:2000]
    if b"OFXHEADER" in start or b"<OFX>" in start or b"<?OFX" in start:
        return read_ofx(content)
    if start.startswith(b"<"):
        return read_camt(content)
    text = text_of(content)
    if start.startswith(b"!"):
        return read_qif(text, order)
    return read_sheet(text)


def text_of(content: bytes) -> str:
    """UTF-8, or what banks wrote before it. A file that is no text is refused."""
    if b"\x00" in content:
        raise BadFile("This is no text that a bank writes: camt.053, OFX, QIF or CSV are read.")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")
