"""Which invoices a line of the bank pays, with the reasons. A proposal books nothing. Pure."""

import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from enum import IntEnum

from stdnum import iso11649

from billing.banking.lines import BankMove
from billing.money.reference import creditor_reference

NUMBER = re.compile(r"(?<!\d)\d{4}-\d{4,}(?!\d)")
REFERENCE = re.compile(r"RF\d{2}(?: ?[0-9A-Z]{1,4}){1,6}", re.IGNORECASE)
NEAR_DAYS = 10
MOST = 5


class Trust(IntEnum):
    """How far the reasons carry: only the first is offered for one tap."""

    SURE = 3
    LIKELY = 2
    POSSIBLE = 1


@dataclass(frozen=True, slots=True)
class OpenInvoice:
    key: int
    name: str
    payer: int
    payer_name: str
    open: Decimal
    due_on: date


@dataclass(frozen=True, slots=True)
class Known:
    """Money that is in the books already and may be what the bank shows now: a transfer taken by hand, a deposit slip,
    a card payout."""

    kind: str
    key: int
    name: str
    amount: Decimal
    day: date


@dataclass(frozen=True, slots=True)
class Match:
    """What a line is taken for: parts of invoices of one payer, or something known already; and why."""

    trust: Trust
    reasons: tuple[str, ...]
    payer: int = 0
    parts: tuple[tuple[int, Decimal], ...] = ()
    known: Known | None = None
    names: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What is proposed."""
        return f"It is {self.known.name}" if self.known else f"Book for {', '.join(self.names)}"


@dataclass(slots=True)
class Ledger:
    """What is open and known, laid out for finding."""

    invoices: Sequence[OpenInvoice]
    known: Sequence[Known] = ()
    words: dict[int, str] = field(default_factory=dict)
    by_name: dict[str, OpenInvoice] = field(default_factory=dict)
    by_reference: dict[str, OpenInvoice] = field(default_factory=dict)
    by_amount: dict[Decimal, list[OpenInvoice]] = field(default_factory=lambda: defaultdict(list))
    by_payer: dict[int, list[OpenInvoice]] = field(default_factory=lambda: defaultdict(list))

    def __post_init__(self) -> None:
        for invoice in self.invoices:
            self.words[invoice.key] = f"{invoice.name} of {invoice.payer_name}"
            self.by_name[invoice.name] = invoice
            with suppress(ValueError):  # an old number may be of any length
                self.by_reference[creditor_reference(invoice.name)] = invoice
            self.by_amount[invoice.open].append(invoice)
            self.by_payer[invoice.payer].append(invoice)


def matches(move: BankMove, ledger: Ledger) -> list[Match]:
    """What the line may be, the most trusted first; nothing for what went out.

    Sure: the reference or the number of invoices of one payer, and exactly what is open on them. Likely: what is in the
    books already with that amount; the reference with another amount; a payer's name with what they owe. Possible: only
    the amount.
    """
    if move.amount <= 0:
        return []
    found = [*_known(move, ledger), *_by_reference(move, ledger), *_by_name(move, ledger), *_by_amount(move, ledger)]
    best: dict[object, Match] = {}
    for match in found:
        key = match.known or frozenset(key for key, _ in match.parts)
        if key not in best or match.trust > best[key].trust:
            best[key] = match
    told = [replace(match, names=tuple(ledger.words[key] for key, _ in match.parts)) for match in best.values()]
    return sorted(told, key=lambda match: -match.trust)[:MOST]


def sure_match(move: BankMove, ledger: Ledger) -> Match | None:
    """The one match that is offered for one tap, found without asking every payer's name."""
    if move.amount <= 0:
        return None
    return next((match for match in _by_reference(move, ledger) if match.trust == Trust.SURE), None)


def _known(move: BankMove, ledger: Ledger) -> Iterable[Match]:
    for known in ledger.known:
        if known.amount == move.amount and abs((known.day - move.day).days) <= NEAR_DAYS:
            reason = f"{known.name} of {known.day:%-d %b %Y} is in the books with this amount"
            yield Match(Trust.LIKELY, (reason,), known=known)


def _by_reference(move: BankMove, ledger: Ledger) -> Iterable[Match]:
    named = _named(move, ledger)
    if not named or len({invoice.payer for invoice in named}) > 1:
        return
    together = sum((invoice.open for invoice in named), Decimal(0))
    told = f"names {' and '.join(invoice.name for invoice in named)}"
    parts = _oldest_first(move.amount, named)
    if together == move.amount:
        yield Match(Trust.SURE, (told, "exactly what is open"), named[0].payer, parts)
    else:
        less = "less" if move.amount < together else "more"
        yield Match(Trust.LIKELY, (told, f"{less} than the {together:f} that is open"), named[0].payer, parts)


def _named(move: BankMove, ledger: Ledger) -> list[OpenInvoice]:
    told = f"{move.reference} {move.text}"
    found = [ledger.by_name[name] for name in NUMBER.findall(told) if name in ledger.by_name]
    for text in REFERENCE.findall(told):
        found += _with_reference(text, ledger)
    return list(dict.fromkeys(found))


def _with_reference(text: str, ledger: Ledger) -> list[OpenInvoice]:
    """Banks print it in groups of four, and what follows may look like one more group."""
    groups = text.split(" ")
    for count in range(len(groups), 0, -1):
        code = "".join(groups[:count]).upper()
        if iso11649.is_valid(code) and code in ledger.by_reference:
            return [ledger.by_reference[code]]
    return []


def _by_name(move: BankMove, ledger: Ledger) -> Iterable[Match]:
    told = _plain_words(f"{move.name} {move.text}")
    for payer, invoices in ledger.by_payer.items():
        name = invoices[0].payer_name
        wanted = {word for word in _plain_words(name) if len(word) > 2}
        if not wanted or not wanted <= told:
            continue
        by = f"from {name}"
        exact = next((invoice for invoice in invoices if invoice.open == move.amount), None)
        together = sum((invoice.open for invoice in invoices), Decimal(0))
        if exact is not None:
            yield Match(Trust.LIKELY, (by, f"exactly {exact.name}"), payer, ((exact.key, move.amount),))
        elif together == move.amount:
            yield Match(Trust.LIKELY, (by, "exactly all that is open"), payer, _oldest_first(move.amount, invoices))
        else:
            yield Match(Trust.POSSIBLE, (by, "another amount"), payer, _oldest_first(move.amount, invoices))


def _by_amount(move: BankMove, ledger: Ledger) -> Iterable[Match]:
    for invoice in ledger.by_amount.get(move.amount, ()):
        reason = f"exactly {invoice.name} of {invoice.payer_name}"
        yield Match(
            Trust.POSSIBLE, (reason, "nothing else tells who it is"), invoice.payer, ((invoice.key, move.amount),)
        )


def _oldest_first(amount: Decimal, invoices: Iterable[OpenInvoice]) -> tuple[tuple[int, Decimal], ...]:
    parts = []
    for invoice in sorted(invoices, key=lambda each: (each.due_on, each.key)):
        part = min(amount, invoice.open)
        if part > 0:
            parts.append((invoice.key, part))
            amount -= part
    return tuple(parts)


def _plain_words(text: str) -> set[str]:
    bare = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().casefold()
    return set(re.findall(r"[a-z0-9]+", bare))


def place_among_equals(moves: Sequence[BankMove], account: str) -> list[str]:
    """A key for each move by which it is known again: the bank's id, else day, amount, text and its place among equals.

    Overlapping files thus skip only as many equals as exist already.
    """
    seen: dict[str, int] = defaultdict(int)
    keys = []
    for move in moves:
        told = f"{move.day}|{move.amount.normalize():f}|{move.text}|{move.reference}"
        own = f"id|{move.bank_id}" if move.bank_id else told
        seen[own] += 1
        keys.append(f"{account}|{own}|{seen[own]}")
    return keys
