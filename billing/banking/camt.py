"""Bank statements of ISO 20022, camt.053 in any version: elements are known by their names. Pure."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from lxml import etree

from billing.banking.lines import BadFile, BankMove, Reading, words

BOOKED = "BOOK"


def read_camt(content: bytes) -> Reading:
    """Raises BadFile for what is no camt.053, names an entity, or has an entry that cannot be read."""
    statements = _tree(content).findall("{*}BkToCstmrStmt/{*}Stmt")
    if not statements:
        raise BadFile("This XML is no bank statement (camt.053).")
    accounts = {_account(each) for each in statements}
    if len(accounts) > 1:
        raise BadFile("This file holds statements of several accounts. Ask your bank for one account at a time.")
    moves = [move for statement in statements for move in _moves(statement)]
    currencies = {move.currency for move in moves}
    if len(currencies) > 1:
        raise BadFile(f"This file holds several currencies: {', '.join(sorted(currencies))}.")
    stated = _text(statements[0], "Acct/Ccy")
    return Reading("camt.053", accounts.pop(), next(iter(currencies), stated), moves)


def _tree(content: bytes) -> Any:
    """Without entities, a network or a document type: an XML bomb is refused before it goes off."""
    parser = etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False, huge_tree=False)
    try:
        root = etree.fromstring(content, parser)
    except etree.XMLSyntaxError as wrong:
        raise BadFile(f"This XML is broken: {wrong.msg}.") from wrong
    if root.getroottree().docinfo.doctype:
        raise BadFile("A bank statement has no document type. This file is refused.")
    return root


def _account(statement: Any) -> str:
    return _text(statement, "Acct/Id/IBAN") or _text(statement, "Acct/Id/Othr/Id")


def _moves(statement: Any) -> Iterator[BankMove]:
    for entry in statement.findall("{*}Ntry"):
        status = _text(entry, "Sts/Cd") or _text(entry, "Sts")
        if status == BOOKED:
            yield from _entry(entry)


def _entry(entry: Any) -> Iterator[BankMove]:
    """One move for an entry; for one that the bank took together, one for each part where the parts add up to it."""
    whole, currency = _amount(entry)
    day = _day(entry)
    sign = _sign(entry)
    parts = entry.findall("{*}NtryDtls/{*}TxDtls")
    amounts = [_amount_of_part(part, currency) for part in parts]
    told = _text(entry, "AddtlNtryInf")
    bank_id = _text(entry, "AcctSvcrRef")
    known = [amount for amount in amounts if amount is not None]
    if len(parts) > 1 and len(known) == len(parts) and sum(known) == whole:
        for number, (part, amount) in enumerate(zip(parts, known, strict=True), start=1):
            own = f"{bank_id}/{number}" if bank_id else ""
            yield BankMove(day, sign * amount, **_who(part, told, sign), bank_id=own, currency=currency)
    elif len(parts) == 1:
        yield BankMove(day, sign * whole, **_who(parts[0], told, sign), bank_id=bank_id, currency=currency)
    else:
        yield BankMove(day, sign * whole, text=told, bank_id=bank_id, currency=currency)


def _sign(entry: Any) -> int:
    way = _text(entry, "CdtDbtInd")
    if way not in {"CRDT", "DBIT"}:
        raise BadFile(f"Line {entry.sourceline} does not say whether money came in or went out.")
    is_reversal = _text(entry, "RvslInd") == "true"
    return 1 if (way == "CRDT") != is_reversal else -1


def _who(part: Any, told: str, sign: int) -> dict[str, str]:
    """The other side: who paid for what came in, who was paid for what went out."""
    other = "Dbtr" if sign > 0 else "Cdtr"
    name = _text(part, f"RltdPties/{other}/Nm") or _text(part, f"RltdPties/{other}/Pty/Nm")
    free = " ".join(each.text or "" for each in part.findall("{*}RmtInf/{*}Ustrd"))
    given = _text(part, "RmtInf/Strd/CdtrRefInf/Ref")
    end_to_end = _text(part, "Refs/EndToEndId")
    reference = given or ("" if end_to_end == "NOTPROVIDED" else end_to_end)
    return {"text": words(free, told), "name": name, "reference": reference}


def _amount(entry: Any) -> tuple[Decimal, str]:
    found = entry.find("{*}Amt")
    try:
        amount = Decimal((found.text or "").strip()) if found is not None else Decimal("NaN")
    except InvalidOperation:
        amount = Decimal("NaN")
    if not amount.is_finite() or amount < 0:
        raise BadFile(f"Line {entry.sourceline} has no amount that can be read.")
    return amount, found.get("Ccy", "")


def _amount_of_part(part: Any, currency: str) -> Decimal | None:
    for path in ("{*}Amt", "{*}AmtDtls/{*}TxAmt/{*}Amt"):
        found = part.find(path)
        if found is not None and found.get("Ccy") == currency:
            try:
                return Decimal((found.text or "").strip())
            except InvalidOperation:
                return None
    return None


def _day(entry: Any) -> date:
    for path in ("BookgDt/Dt", "BookgDt/DtTm", "ValDt/Dt", "ValDt/DtTm"):
        told = _text(entry, path)
        if told:
            try:
                return date.fromisoformat(told[:10])
            except ValueError:
                break
    raise BadFile(f"Line {entry.sourceline} has no day that can be read.")


def _text(element: Any, path: str) -> str:
    found = element.findtext("/".join(f"{{*}}{name}" for name in path.split("/")))
    return " ".join((found or "").split())
