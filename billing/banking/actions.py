import hashlib
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.refusal import Refused
from billing.banking.columns import Sheet
from billing.banking.lines import BankMove, Reading
from billing.banking.matching import Match, place_among_equals
from billing.banking.models import BankColumns, BankFile, BankLine
from billing.banking.queries import lines_of_another_format
from billing.invoices.models import Invoice
from billing.journal.actions import open_day
from billing.money.rounding import round_money
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from clients.people.models import Person

BATCH = 1000


class NeedsWord(Refused):
    """Refused until a person says yes to what `asks` names."""

    def __init__(self, sentence: str, asks: str) -> None:
        super().__init__(sentence)
        self.asks = asks


@audit.action
def keep_columns(*, sheet: Sheet, columns: Mapping[str, str], at: datetime, by: User) -> None:
    """What the columns of a bank's table are; the next file with this heading is read without asking."""
    kept, _ = BankColumns.objects.update_or_create(heading=sheet.key, defaults={"columns": dict(columns)})
    audit.record("bank columns chosen", kept, at=at, by=by, changes={})


@audit.action
def take_in(
    *,
    reading: Reading,
    content: bytes,
    name: str,
    at: datetime,
    by: User,
    another_account: bool = False,
    another_format: bool = False,
) -> BankFile:
    """Take all lines of a file in, or none. Lines that an earlier file brought are skipped; the same file adds nothing.

    `another_account` and `another_format` are what a person says to an account, or days in another format, that were
    not seen before.
    """
    digest = hashlib.sha256(content).hexdigest()
    seen = BankFile.objects.filter(sha256=digest).first()
    if seen is not None:
        raise Refused(f"This file was taken in on {seen.taken_in_at:%-d %b %Y}. Nothing is added.")
    account = _account(reading, another_account=another_account)
    moves = _checked(reading)
    if not another_format and lines_of_another_format(account, reading.format, {move.day for move in moves}):
        raise NeedsWord(
            "These days came in another format before, where the same lines may read otherwise. Look at what is there; "
            "then say that you did, and take it in.",
            "another_format",
        )
    keys = [hashlib.sha256(key.encode()).hexdigest() for key in place_among_equals(moves, account)]
    there = _already_there(keys)
    file = BankFile.objects.create(
        name=name[:200],
        sha256=digest,
        format=reading.format,
        account=account,
        added=sum(key not in there for key in keys),
        known=sum(key in there for key in keys),
        taken_in_at=at,
        taken_in_by=by,
    )
    lines = (_line(file, key, move) for key, move in zip(keys, moves, strict=True) if key not in there)
    BankLine.objects.bulk_create(lines, batch_size=BATCH)
    changes = {"added": file.added, "known": file.known, "format": file.format}
    audit.record("bank file taken in", file, at=at, by=by, changes=changes)
    return file


def _account(reading: Reading, *, another_account: bool) -> str:
    business = the_business()
    known = {account for account in BankFile.objects.values_list("account", flat=True).distinct() if account}
    known |= {business.iban} if business.iban else set()
    if reading.account and known and reading.account not in known and not another_account:
        raise NeedsWord(
            f"This file is of account {reading.account}, not of {', '.join(sorted(known))}. If it is yours, say so.",
            "another_account",
        )
    return reading.account


def _checked(reading: Reading) -> list[BankMove]:
    """Refuses another currency, and an amount with more decimals than the currency has."""
    currency = the_business().currency
    for move in reading.moves:
        told = move.currency or reading.currency
        if told and told != currency:
            raise Refused(
                f"The line of {move.day:%-d %b %Y} over {move.amount:f} is in {told}, your books are in {currency}."
            )
        if round_money(move.amount, currency) != move.amount:
            raise Refused(f"The line of {move.day:%-d %b %Y} over {move.amount:f} has more decimals than {currency}.")
        if abs(move.amount) >= Decimal(10) ** 11:
            raise Refused(f"The line of {move.day:%-d %b %Y} over {move.amount:f} is larger than books can hold.")
    return list(reading.moves)


def _already_there(keys: list[str]) -> set[str]:
    found: set[str] = set()
    for start in range(0, len(keys), BATCH // 2):
        part = keys[start : start + BATCH // 2]
        found |= set(BankLine.objects.filter(key__in=part).values_list("key", flat=True))
    return found


def _line(file: BankFile, key: str, move: BankMove) -> BankLine:
    state = BankLine.State.WAITING if move.amount > 0 else BankLine.State.OUT
    return BankLine(
        file=file,
        key=key,
        day=move.day,
        amount=move.amount,
        text=move.text[:500],
        name=move.name[:140],
        reference=move.reference[:140],
        state=state,
    )


@audit.action
def book_line(
    *, line: BankLine, payer: Person, allocations: Mapping[Invoice, Decimal], at: datetime, by: User
) -> Payment:
    """The line becomes a payment of that payer; what no invoice takes is credit on account."""
    line = _waiting(line)
    payment = take_payment(
        payer=payer,
        amount=Decimal(line.amount),
        method=Payment.Method.TRANSFER,
        received_on=open_day(line.day),
        allocations=allocations,
        reference=(line.reference or line.text)[:120],
        at=at,
        by=by,
    )
    line.payment = payment
    _settle(line, BankLine.State.BOOKED, at=at, by=by)
    audit.record("bank line booked", line, at=at, by=by, changes={"payment": payment.pk})
    return payment


@audit.action
def tie_line(*, line: BankLine, match: Match, at: datetime, by: User) -> BankLine:
    """The line shows what is in the books already: nothing is booked."""
    line = _waiting(line)
    if match.known is None:
        raise ValueError("only what is known already is tied")
    line.tied_to = f"{match.known.kind} {match.known.key}"
    if match.known.kind == "payment":
        line.payment_id = match.known.key
    _settle(line, BankLine.State.TIED, at=at, by=by)
    audit.record("bank line tied", line, at=at, by=by, changes={"to": line.tied_to})
    return line


@audit.action
def put_aside(*, line: BankLine, reason: str, at: datetime, by: User) -> BankLine:
    """Money that is not from a payer: a loan, interest, one's own."""
    line = _waiting(line)
    if not reason.strip():
        raise Refused("Say what it is, so that you know next year.")
    line.why_aside = reason.strip()
    _settle(line, BankLine.State.ASIDE, at=at, by=by)
    audit.record("bank line put aside", line, at=at, by=by, changes={})
    return line


@audit.action
def take_back_aside(*, line: BankLine, at: datetime, by: User) -> BankLine:
    line = BankLine.objects.select_for_update().get(pk=line.pk)
    if line.state != BankLine.State.ASIDE:
        raise Refused("Only what was put aside waits again.")
    line.state, line.why_aside, line.settled_at, line.settled_by = BankLine.State.WAITING, "", None, None
    line.save()
    audit.record("bank line waits again", line, at=at, by=by, changes={})
    return line


def _waiting(line: BankLine) -> BankLine:
    line = BankLine.objects.select_for_update().get(pk=line.pk)
    if line.state != BankLine.State.WAITING:
        raise Refused("Somebody has dealt with this line already.")
    return line


def _settle(line: BankLine, state: BankLine.State, *, at: datetime, by: User) -> None:
    line.state, line.settled_at, line.settled_by = state, at, by
    line.save()
