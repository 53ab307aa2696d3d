"""The rent of an agreed hire, its delivery and its collection, each once for all the horses that share the machine."""

from collections.abc import Iterator
from decimal import Decimal

from billing.invoices.agreed import less_discount
from billing.invoices.hires import HireDue
from billing.invoices.models import Charge
from billing.invoices.proposals import DayOfWork, Proposal, say_horses


def hire_proposals(work: DayOfWork) -> Iterator[Proposal]:
    """All but the call-out of a collection, which is a part of its stop."""
    for due in work.hires_due:
        if due.kind != Charge.Kind.CALL_OUT:
            yield _proposal(work, due)


def _proposal(work: DayOfWork, due: HireDue) -> Proposal:
    hire, animals = due.hire, due.hire.animals
    agreed = f"agreed in quote {hire.quote.number}"
    amounts = {
        Charge.Kind.RENT: (hire.rent, f"{hire.rent_words}, {agreed}"),
        Charge.Kind.DELIVERY: (hire.delivery, agreed),
        Charge.Kind.COLLECTION: (hire.collection or Decimal(0), agreed),
    }
    amount, reason = amounts[due.kind]
    proposal = Proposal(
        kind=due.kind,
        day=work.day,
        animal=work.asked_about(animals),
        hire=hire,
        text=f"{due.kind.label}, {say_horses(animals)}",
        amount=amount,
        reason=reason,
        payers=work.payers_of_hire(hire),
        missing=work.not_handed_out.get(hire.pk, ""),
    )
    return less_discount(proposal, hire, work.currency)
