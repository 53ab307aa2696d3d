"""All proposals of a day, in the order in which a person reads them."""

from dataclasses import replace

from billing.invoices.call_out_proposals import call_out_proposals
from billing.invoices.hire_proposals import hire_proposals
from billing.invoices.prepaid_proposals import prepaid_proposals
from billing.invoices.proposals import DayOfWork, Proposal
from billing.invoices.session_proposals import fee_proposals, session_proposals


def proposals_of(work: DayOfWork) -> list[Proposal]:
    """What is prepaid, then hires, then visit by visit in the order of the day: sessions, the call-out, a fee."""
    stops = list(call_out_proposals(work))
    call_outs = {proposal.visit.pk: proposal for proposal in stops if proposal.visit}
    found = [*prepaid_proposals(work), *hire_proposals(work), *(each for each in stops if each.hire)]
    for visit in work.visits:
        found += session_proposals(work, visit)
        if visit.pk in call_outs:
            found.append(call_outs[visit.pk])
        found += fee_proposals(work, visit)
    return [_with_payers_checked(proposal) for proposal in found]


def _with_payers_checked(proposal: Proposal) -> Proposal:
    if proposal.payers:
        return proposal
    return replace(
        proposal,
        missing=f"{proposal.animal} has no owner on {proposal.day:%-d %b %Y}: write down who owns it.",
    )
