"""The ordered list of what `verify` looks at. Each check lives in the feature that it is about."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from django.apps import apps

from backoffice.audit.models import Entry
from backoffice.audit.queries import breaks_in_chain
from backoffice.documents import verification as documents
from backoffice.erasing import replaying as erasures
from clients.paperwork import verification as paperwork
from clients.visits import verification as visits


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that must hold: its name, how much there is to look at, and a sentence for each fault."""

    name: str
    looked_at: Callable[[], str]
    faults: Callable[[], Iterable[str]]


@dataclass(frozen=True, slots=True)
class Finding:
    check: Check
    looked_at: str
    faults: list[str]


def look() -> Iterable[Finding]:
    for check in all_checks():
        yield Finding(check, check.looked_at(), list(check.faults()))


def all_checks() -> list[Check]:
    return [*FOUNDATION, *CARE, *(money_checks() if apps.is_installed("billing") else [])]


def _count_entries() -> str:
    return f"{Entry.objects.count()} entries"


FOUNDATION = [
    Check("the audit trail is unbroken", _count_entries, breaks_in_chain),
    Check("stored files are there, unchanged and sealed", documents.count_looked_at, documents.faults_of_files),
    Check("no file is without its row", documents.count_files, documents.files_without_a_row),
]
CARE = [
    Check("every erasure on file holds in this database", erasures.count_looked_at, erasures.faults_of_erasures),
    Check("signatures are the ones that were given", paperwork.count_signatures, paperwork.faults_of_signatures),
    Check("booked visits have a permission decision", visits.count_looked_at, visits.faults_of_decisions),
]


def money_checks() -> list[Check]:
    """Imported here, not above: the care side runs without the money side."""
    from billing.banking import verification as banking
    from billing.invoices import verification as invoices
    from billing.journal import verification as journal
    from billing.packages import verification as packages
    from billing.payments import verification as payments
    from billing.quotes import verification as quotes
    from billing.vouchers import verification as vouchers

    return [
        Check("quote numbers have no gap", quotes.count_looked_at, quotes.faults_of_numbers),
        Check("invoice numbers have no gap", invoices.count_invoices, invoices.faults_of_numbers),
        Check("credit note numbers have no gap", invoices.count_credit_notes, invoices.faults_of_credit_numbers),
        Check("payment numbers have no gap", payments.count_payments, payments.faults_of_numbers),
        Check("refunds have no gap and add up", payments.count_refunds, payments.faults_of_refunds),
        Check(
            "nothing is open that was noted as finished with",
            invoices.count_looked_through,
            invoices.faults_of_what_was_looked_through,
        ),
        Check("charges are split exactly, no session twice", invoices.count_charges, invoices.faults_of_charges),
        Check("invoices add up and have their document", invoices.count_invoices, invoices.faults_of_invoices),
        Check("packages never go below zero", packages.count_looked_at, packages.faults_of_counts),
        Check("packages and plans owe what is unused", packages.count_looked_at, packages.faults_of_liability),
        Check("gift vouchers owe what is left", vouchers.count_looked_at, vouchers.faults_of_vouchers),
        Check("transactions sum to zero", journal.count_looked_at, journal.faults_of_balance),
        Check("no more is allocated than there is", payments.count_payments, payments.faults_of_allocations),
        Check("slips add up, checks are banked once", payments.count_held, payments.faults_of_held),
        Check("booked lines of the bank are their payments", banking.count_lines, banking.faults_of_lines),
        Check("the books agree with invoices and payments", payments.count_payers, payments.faults_of_balances),
    ]
