"""All proposals of a day, in the order in which a person reads them."""

from dataclasses import replace
from decimal import Decimal

from billing.invoices.call_out_proposals import call_out_proposals
from billing.invoices.hire_proposals import hire_proposals
from billing.invoices.prepaid_proposals import prepaid_proposals
from billing.invoices.proposals import DayOfWork, Proposal
from billing.invoices.session_proposals import fee_proposals, session_proposals
from clients.visits.models import Visit


def proposals_of(work: DayOfWork) -> list[Proposal]:
    """What is prepaid, then hires, then visit by visit in the order of the day: sessions, the call-out, a fee."""
    stops = call_out_proposals(work)
    call_outs = {proposal.visit.pk: proposal for proposal in stops if proposal.visit}
    found = [*prepaid_proposals(work), *hire_proposals(work), *(each for each in stops if each.hire)]
    for visit in work.visits:
        call_out = call_outs.get(visit.pk)
        found += session_proposals(work, visit)
        if visit.status != Visit.Status.COMPLETED:
            found += fee_proposals(work, visit, call_out.amount if call_out and call_out.amount else Decimal(0))
        elif call_out:
            found.append(call_out)
    return [_with_payers_checked(proposal) for proposal in found]


def _with_payers_checked(proposal: Proposal) -> Proposal:
    if proposal.payers:
        return proposal
    return replace(
        proposal,
        missing=f"{proposal.animal} has no owner on {proposal.day:%-d %b %Y}: write down who owns it.",
    )
