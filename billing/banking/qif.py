"""QIF: a letter a line, `^` between entries, days in the order of the country. Pure."""

from billing.banking.lines import BadFile, BankMove, Reading, words
from billing.banking.plain import DayOrder, amount_of, day_of, mark_of, order_of

ACCOUNTS = ("!type:bank", "!type:cash", "!type:ccard", "!type:oth a")


def read_qif(text: str, order: DayOrder) -> Reading:
    """`order` is used where the days of the file allow both. QIF tells no account and no currency."""
    entries = _entries(text)
    days = order_of((fields.get("D", "") for _, fields in entries), order)
    mark = mark_of(fields.get("T", "") for _, fields in entries)
    return Reading("QIF", "", "", [_move(line, fields, days, mark) for line, fields in entries])


def _entries(text: str) -> list[tuple[int, dict[str, str]]]:
    """(number of the first line, letter → value) of each entry of the accounts that banks have."""
    found: list[tuple[int, dict[str, str]]] = []
    fields: dict[str, str] = {}
    first, is_account = 0, False
    for number, line in enumerate(text.splitlines(), start=1):
        if line.startswith("!"):
            is_account = line.strip().lower() in ACCOUNTS
        elif is_account and line.startswith("^"):
            if fields:
                found.append((first, fields))
            fields = {}
        elif is_account and line.strip():
            first = first if fields else number
            fields.setdefault(line[0].upper(), line[1:].strip())
    if fields:
        found.append((first, fields))
    if not found:
        raise BadFile("This QIF file holds no entry of a bank account.")
    return found


def _move(line: int, fields: dict[str, str], order: DayOrder, mark: str) -> BankMove:
    try:
        day, amount = day_of(fields.get("D", ""), order), amount_of(fields.get("T", fields.get("U", "")), mark)
    except ValueError as wrong:
        raise BadFile(f"Line {line}: “{wrong}” cannot be read.") from None
    name = fields.get("P", "")
    return BankMove(day, amount, text=words(fields.get("M")), name=name, reference=fields.get("N", ""))
