"""What an accepted quote changes about a charge."""

from dataclasses import replace

from billing.invoices.proposals import Proposal
from billing.money.portion import Portion
from billing.money.words import say_amount
from billing.prices.words import plain_number
from billing.quotes.models import AgreedHire, AgreedPlan


def less_discount(proposal: Proposal, agreed: AgreedPlan | AgreedHire | None, currency: str) -> Proposal:
    """The percentage that was agreed is taken off each charge, with its reason; an agreed amount comes off invoices."""
    if agreed is None or not agreed.option.discount_percent or not proposal.amount:
        return proposal
    percent = agreed.option.discount_percent
    off = Portion(percent).of_each(proposal.amount, currency)
    taken = f"{plain_number(percent)} % off {say_amount(proposal.amount, currency)}: {agreed.option.discount_reason}"
    return replace(proposal, amount=proposal.amount - off, reason=f"{proposal.reason}; {taken}")
