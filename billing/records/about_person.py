"""What the money side holds about a person, each record with how it is emptied: numbers and amounts always stay."""

from collections.abc import Iterator
from datetime import date
from functools import partial
from typing import Any

from backoffice.documents.models import Document
from backoffice.keeping.rules import Held
from billing.banking.models import BankLine
from billing.invoices.models import CreditNote, Invoice
from billing.invoices.queries import open_invoices, uncharged_sessions
from billing.packages.queries import packages_left
from billing.payments.models import Payment, Refund, SecurityDeposit
from billing.payments.queries import credit_on_account, waiting_shares
from billing.prices.models import TaxExemption
from billing.quotes.models import Acceptance, Question, Quote
from billing.reminders.models import MoneyQuestion, Reminder
from billing.vouchers.models import Voucher
from clients.animals.models import Ownership
from clients.people.models import Person
from clients.people.names import erased_name

OPEN = (Quote.State.DRAFT, Quote.State.OFFERED)
NOBODY = {"name": "", "address": ""}
ERASED = "Erased by a rule of keeping."


def held_about(person: Person, on: date) -> Iterator[Held]:
    for quote in _quotes_of(person):
        if _is_about(quote):
            yield _quote(quote, on)
    for invoice in Invoice.objects.filter(payer=person).select_related("document").order_by("number", "pk"):
        if invoice.frozen and invoice.frozen["payer"]["name"]:
            yield _invoice(invoice)
    for note in CreditNote.objects.filter(invoice__payer=person).select_related("document", "invoice__payer"):
        if note.frozen["payer"]["name"]:
            yield _credit_note(note)
    yield from _money_of(person)


def _money_of(person: Person) -> Iterator[Held]:
    for payment in Payment.objects.filter(payer=person).select_related("receipt").order_by("number"):
        yield _payment(payment)
    for refund in Refund.objects.filter(payer=person).select_related("receipt").order_by("number"):
        yield _refund(refund)
    for deposit in SecurityDeposit.objects.filter(person=person).select_related("receipt").exclude(what=ERASED):
        yield _security(deposit)
    for exemption in TaxExemption.objects.filter(person=person).exclude(certificate=ERASED).order_by("since"):
        yield _exemption(exemption)
    for voucher in Voucher.objects.filter(payer=person).select_related("paper").exclude(for_whom=ERASED):
        yield _voucher(voucher)
    for question in MoneyQuestion.objects.filter(person=person).exclude(text=ERASED):
        yield _money_question(question)


def in_the_way(person: Person, on: date) -> Iterator[str]:
    """Sentences on money that is not settled: the claim is the reason to keep (GDPR art. 17(3)(e))."""
    for invoice in open_invoices(person, on):
        yield f"{invoice} is still open. Take the payment, or credit it, first."
    owned = Ownership.objects.on(on).filter(person=person).values("animal")
    if waiting_shares(person).exists() or uncharged_sessions().filter(visit__animal__in=owned).exists():
        yield "Work is not invoiced yet. Invoice it, or waive it, first."
    if credit_on_account(person):
        yield "There is credit on their account. Give it back first."
    if SecurityDeposit.objects.filter(person=person, settled_on=None).exists():
        yield "A security deposit of theirs is held. Settle it first."
    if any(voucher.left for voucher in Voucher.objects.filter(payer=person)):
        yield "A gift voucher that they bought is not used up. Wait, or credit it, first."
    if packages_left(person, on):
        yield "A package still has sessions left. Close it first."
    for quote in Quote.objects.filter(person=person, state__in=OPEN):
        if quote.is_draft or quote.is_answerable(on):
            yield f"{quote} is still open. Withdraw it, or let it lapse, first."


def _kept(document: Document | None) -> tuple[Document, ...]:
    return (document,) if document is not None and document.erased_at is None else ()


def _quotes_of(person: Person) -> list[Quote]:
    rows = Quote.objects.filter(person=person).select_related("document", "person", "acceptance")
    return list(rows.prefetch_related("questions", "horses__animal").order_by("made_at", "pk"))


def _is_about(quote: Quote) -> bool:
    return erased_name(quote.person_id) not in quote.title


def _quote(quote: Quote, on: date) -> Held:
    acceptance = getattr(quote, "acceptance", None)
    kind = "agreement" if acceptance else "quote"
    moment = acceptance.signed_at if acceptance else quote.answered_at or quote.offered_at or quote.made_at
    told = {
        "quote": quote.number,
        "title": quote.title,
        "state": quote.get_state_display(),
        "horses": [str(horse.animal) for horse in quote.horses.all()],
        "offered_at": quote.offered_at,
        "words": quote.note,
        "questions": [{"asked": question.text, "answered": question.answer} for question in quote.questions.all()],
        "accepted": _tell_acceptance(acceptance) if acceptance else None,
    }
    return Held(kind, str(quote), moment.date(), told, partial(_empty_quote, quote), _kept(quote.document))


def _tell_acceptance(acceptance: Acceptance) -> dict[str, Any]:
    names = ("name_typed", "signed_at", "device", "address", "strokes", "total")
    return {name: getattr(acceptance, name) for name in names}


def _empty_quote(quote: Quote) -> None:
    """Number, horses and prices stay; the name goes from what was frozen, and so does what was said and signed."""
    names = {quote.person.name: erased_name(quote.person_id)}
    title = f"Quote for {erased_name(quote.person_id)}"
    frozen = renamed(quote.frozen, names)
    Quote.objects.filter(pk=quote.pk).update(title=title, note="", decline_reason="", frozen=frozen)
    Question.objects.filter(quote=quote).update(text="Erased by a rule of keeping.")
    Question.objects.filter(quote=quote, answered_at__isnull=False).update(answer="Erased by a rule of keeping.")
    acceptance = getattr(quote, "acceptance", None)
    if acceptance is not None:
        Acceptance.objects.filter(pk=acceptance.pk).update(
            name_typed="", strokes=[], device="", address=None, link=None, at_most=renamed(acceptance.at_most, names)
        )


def renamed(value: Any, names: dict[str, str]) -> Any:
    """Plain JSON with each name replaced, in keys and inside sentences too."""
    if isinstance(value, dict):
        return {renamed(key, names): renamed(part, names) for key, part in value.items()}
    if isinstance(value, list):
        return [renamed(part, names) for part in value]
    if isinstance(value, str):
        for name, other in names.items():
            value = value.replace(name, other)
    return value


def _end_of_year(day: date) -> date:
    return date(day.year, 12, 31)


def _invoice(invoice: Invoice) -> Held:
    day = invoice.issued_on or invoice.made_at.date()
    told = {"invoice": invoice.name, **(invoice.frozen or {})}
    return Held(
        "books", str(invoice), _end_of_year(day), told, partial(_empty_invoice, invoice), _kept(invoice.document)
    )


def _empty_invoice(invoice: Invoice) -> None:
    """Number, lines, amounts and tax stay for good; who it was for goes."""
    frozen = renamed(invoice.frozen, {invoice.payer.name: erased_name(invoice.payer_id)})
    frozen["payer"] |= NOBODY
    Invoice.objects.filter(pk=invoice.pk).update(frozen=frozen)
    invoice.write_offs.update(reason=ERASED)
    Reminder.objects.filter(invoice=invoice).update(text=ERASED)


def _credit_note(note: CreditNote) -> Held:
    told = {"credit_note": note.name, **note.frozen}
    empty = partial(_empty_credit_note, note)
    return Held("books", str(note), _end_of_year(note.issued_on), told, empty, _kept(note.document))


def _empty_credit_note(note: CreditNote) -> None:
    """Number, lines, amounts and tax stay for good; who it was for goes."""
    payer = note.invoice.payer
    frozen = renamed(note.frozen, {payer.name: erased_name(payer.pk)})
    frozen["payer"] |= NOBODY
    CreditNote.objects.filter(pk=note.pk).update(frozen=frozen, reason=ERASED)


def _payment(payment: Payment) -> Held:
    told = {
        "payment": payment.number,
        "received_on": payment.received_on,
        "amount": payment.amount,
        "method": payment.get_method_display(),
        "reference": payment.reference,
    }
    counted, empty = _end_of_year(payment.received_on), partial(_empty_payment, payment)
    return Held("books", f"Payment {payment.number}", counted, told, empty, _kept(payment.receipt))


def _refund(refund: Refund) -> Held:
    told = {
        "refund": refund.number,
        "given_on": refund.given_on,
        "amount": refund.amount,
        "method": refund.get_method_display(),
        "reference": refund.reference,
    }
    counted, empty = _end_of_year(refund.given_on), partial(_empty_refund, refund)
    return Held("books", f"Refund {refund.number}", counted, told, empty, _kept(refund.receipt))


def _security(deposit: SecurityDeposit) -> Held:
    told = {"deposit": deposit.number, "for": deposit.what, "amount": deposit.amount, "kept": deposit.kept_reason}
    empty = partial(_empty_security, deposit)
    return Held("books", str(deposit), _end_of_year(deposit.taken_on), told, empty, _kept(deposit.receipt))


def _empty_security(deposit: SecurityDeposit) -> None:
    why = ERASED if deposit.kept_reason else ""
    SecurityDeposit.objects.filter(pk=deposit.pk).update(what=ERASED, kept_reason=why)


def _exemption(exemption: TaxExemption) -> Held:
    told = {"exempt_for": exemption.reason, "certificate": exemption.certificate, "since": exemption.since}
    empty = partial(_empty_exemption, exemption)
    return Held("books", "Exempt from tax", _end_of_year(exemption.until or exemption.since), told, empty, ())


def _empty_exemption(exemption: TaxExemption) -> None:
    TaxExemption.objects.filter(pk=exemption.pk).update(certificate=ERASED, reason=ERASED)


def _voucher(voucher: Voucher) -> Held:
    told = {"voucher": voucher.code, "for": voucher.for_whom, "amount": voucher.amount, "sold_on": voucher.sold_on}
    empty = partial(_empty_voucher, voucher)
    return Held("books", str(voucher), _end_of_year(voucher.sold_on), told, empty, _kept(voucher.paper))


def _empty_voucher(voucher: Voucher) -> None:
    Voucher.objects.filter(pk=voucher.pk).update(for_whom=ERASED)


def _money_question(question: MoneyQuestion) -> Held:
    told = {"asked_at": question.asked_at, "question": question.text, "answer": question.answer}
    empty = partial(_empty_question, question)
    return Held("books", "A question about an invoice", _end_of_year(question.asked_at.date()), told, empty, ())


def _empty_question(question: MoneyQuestion) -> None:
    answer = ERASED if question.answer else ""
    MoneyQuestion.objects.filter(pk=question.pk).update(text=ERASED, answer=answer)


def _empty_refund(refund: Refund) -> None:
    Refund.objects.filter(pk=refund.pk).update(reference="")


def _empty_payment(payment: Payment) -> None:
    Payment.objects.filter(pk=payment.pk).update(reference="", returned_reason="")
    BankLine.objects.filter(payment=payment).update(name="", text="", reference="")
