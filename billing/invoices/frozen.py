"""All that an invoice prints, as plain JSON, so that it can be printed again with no look at anything that moves."""

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from backoffice.business.models import Business
from billing.invoices.models import Charge, CreditLine, CreditNote, Invoice, InvoiceLine
from billing.invoices.totals import TaxGroup, Totals
from billing.money.reference import creditor_reference
from billing.money.rounding import round_money
from billing.money.totals import totals
from billing.packages.queries import left_of, say_left
from clients.animals.shares import say_share
from clients.people.models import Person

AMOUNTS = {"whole", "amount", "net", "base", "tax", "total"}
DAYS = {"day", "issued_on", "due_on", "work_from", "work_to", "invoice_day"}


def frozen_invoice(
    *, invoice: Invoice, lines: Sequence[InvoiceLine], counted: Totals, business: Business
) -> dict[str, Any]:
    """Amounts as strings with the decimals of the currency, days as ISO dates."""
    charges = [line.charge_share.charge for line in lines]
    days = [charge.work_day for charge in charges if charge.amount >= 0]
    currency = invoice.currency
    is_prepayment = all(charge.kind == Charge.Kind.DEPOSIT for charge in charges)
    return {
        "kind": "prepayment" if is_prepayment else "invoice",
        "number": invoice.name,
        "reference": creditor_reference(invoice.name) if business.prints_reference else "",
        "issued_on": _day(invoice.issued_on),
        "due_on": _day(invoice.due_on),
        "work_from": _day(min(days)),
        "work_to": _day(max(days)),
        "currency": currency,
        "words": business.words,
        "seller": _seller(business),
        "payer": _payer(invoice.payer, business),
        "lines": [_line(line, currency) for line in lines],
        "tax_word": "VAT" if business.words == Business.Words.UK else "Sales tax",
        "tax_groups": [_tax_group(group, currency) for group in counted.groups],
        "net": _amount(counted.net, currency),
        "tax": _amount(counted.tax, currency),
        "total": _amount(counted.total, currency),
        "packages": say_left(invoice.payer, invoice.issued_on) if invoice.issued_on else [],
        "how_to_pay": business.how_to_pay,
        "has_shares": any(line.charge_share.share != 1 for line in lines),
        "has_tax": bool(counted.tax),
        "has_many_rates": len(counted.groups) > 1,
    }


def frozen_credit_note(*, note: CreditNote, parts: Sequence[CreditLine], business: Business) -> dict[str, Any]:
    """The same for a credit note; each part says what of its line is taken back."""
    currency, invoice = note.invoice.currency, note.invoice
    return {
        "kind": "credit note",
        "number": note.name,
        "issued_on": _day(note.issued_on),
        "invoice": invoice.name,
        "invoice_day": _day(invoice.issued_on),
        "reason": note.reason,
        "currency": currency,
        "words": business.words,
        "seller": _seller(business),
        "payer": _payer(invoice.payer, business),
        "lines": [_credit_line(part, currency) for part in parts],
        "tax_groups": _credit_groups(parts, note.invoice.frozen or {}, currency),
        "tax_word": "VAT" if business.words == Business.Words.UK else "Sales tax",
        "net": _amount(note.net, currency),
        "tax": _amount(note.tax, currency),
        "total": _amount(note.total, currency),
        "has_tax": bool(note.tax),
    }


def _seller(business: Business) -> dict[str, str]:
    names = ("name", "address", "country", "email", "phone", "tax_identity", "registration", "iban", "bic")
    return {name: getattr(business, name) for name in names}


def _payer(payer: Person, business: Business) -> dict[str, str]:
    return {"name": payer.name, "address": payer.address, "country": payer.country or business.country}


def _line(line: InvoiceLine, currency: str) -> dict[str, str]:
    share, charge = line.charge_share, line.charge_share.charge
    return {
        "day": _day(charge.work_day),
        "text": line.text,
        "place": charge.place,
        "reason": line.reason,
        "owner": _other_owner(share.owner, share.payer_id),
        "share": "" if share.share == 1 else say_share(share.share),
        "whole": _amount(charge.amount, currency),
        "amount": _amount(line.amount, currency),
        "net": _amount(line.net, currency),
        "tax_percent": _percent(line.tax_percent),
        "tax_category": line.tax_group,
    }


def _credit_line(part: CreditLine, currency: str) -> dict[str, Any]:
    line = part.line
    return {
        "day": _day(line.charge_share.charge.work_day),
        "text": line.text,
        "place": line.charge_share.charge.place,
        "whole": _amount(line.amount, currency),
        "amount": _amount(part.amount, currency),
        "net": _amount(part.net, currency),
        "is_part": part.amount != line.amount,
        "basis": _unused(line) if part.amount != line.amount else "",
        "tax_percent": _percent(line.tax_percent),
        "tax_category": line.tax_group,
    }


def _unused(line: InvoiceLine) -> str:
    """What a part of a package is counted on, such as “3 of 4 Full body unused”."""
    sold = line.charge_share.charge.sold
    return f"{', '.join(map(str, left_of([sold])[sold.pk]))} unused" if sold else ""


def _other_owner(owner: Person | None, payer_pk: int) -> str:
    """Named where somebody else pays in the owner's place."""
    return owner.name if owner is not None and owner.pk != payer_pk else ""


def _tax_group(group: TaxGroup, currency: str) -> dict[str, Any]:
    return {
        "category": group.category,
        "percent": _percent(group.rate.percent) if group.rate else "",
        "included": bool(group.rate and group.rate.is_included),
        "text": group.rate.text if group.rate else "",
        "base": _amount(group.base, currency),
        "tax": _amount(group.tax, currency),
    }


def _credit_groups(parts: Sequence[CreditLine], invoice: Mapping[str, Any], currency: str) -> list[dict[str, Any]]:
    """What is taken back by category and rate, in the words of the invoice."""
    nets = totals((_terms(part.line), part.net) for part in parts)
    taxes = totals((_terms(part.line), part.tax) for part in parts)
    texts = {(group["category"], group["percent"] or "0"): group["text"] for group in invoice["tax_groups"]}
    return [
        {
            "category": category,
            "percent": percent,
            "text": texts.get((category, percent), ""),
            "base": _amount(net, currency),
            "tax": _amount(taxes[category, percent], currency),
        }
        for (category, percent), net in nets.items()
    ]


def _terms(line: InvoiceLine) -> tuple[str, str]:
    return line.tax_group, _percent(line.tax_percent)


def _percent(percent: Decimal) -> str:
    return f"{percent.normalize():f}"


def _amount(amount: Decimal, currency: str) -> str:
    return f"{round_money(amount, currency):f}"


def _day(day: date | None) -> str:
    return day.isoformat() if day else ""


def thawed(frozen: Any, name: str = "") -> Any:
    """The same with amounts as Decimal and days as dates, for a template to print."""
    if isinstance(frozen, dict):
        return {key: thawed(value, key) for key, value in frozen.items()}
    if isinstance(frozen, list):
        return [thawed(value, name) for value in frozen]
    if isinstance(frozen, str) and frozen and name in AMOUNTS:
        return Decimal(frozen)
    if isinstance(frozen, str) and frozen and name in DAYS:
        return date.fromisoformat(frozen)
    return frozen
