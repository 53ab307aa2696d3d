"""What an accepted quote would have charged, and why it waits: nothing is invoiced while permission is on hold."""

from collections.abc import Iterable, Mapping

from billing.invoices.hires import HireDay
from billing.invoices.prepaid import PrepaidWaiting
from billing.packages.sold import Deduction, MonthlyRun, PackageSold
from billing.quotes.models import AgreedHire, AgreedPlan
from clients.kit.models import Hire
from clients.plans.models import Plan


def held_quotes(waiting: Iterable[PrepaidWaiting]) -> Mapping[int, str]:
    """Quote number → why what it prepays waits: an accepted plan that is still proposed."""
    prepaid: list[PackageSold | MonthlyRun | Deduction] = []
    for day in waiting:
        prepaid += [*day.sold, *(month.run for month in day.months), *day.deposits]
    numbers = {each.quote_number for each in prepaid if each.quote_number}
    if not numbers:
        return {}
    proposed = AgreedPlan.objects.filter(quote__number__in=numbers, plan__state=Plan.State.PROPOSED)
    return {
        agreed.quote.number: f"{agreed.plan.animal} is on hold: nothing is charged until its plan runs."
        for agreed in proposed.select_related("quote", "plan__animal")
        if agreed.quote.number is not None
    }


def not_handed_out(on_hire: Iterable[HireDay]) -> Mapping[int, str]:
    """Agreed hire → why its rent waits: no machine is out with the person of the quote in its time."""
    due = {each.hire for day in on_hire for each in day.due}
    if not due:
        return {}
    handed_out = list(Hire.objects.filter(person__in={hire.quote.person_id for hire in due}))
    return {hire.pk: _not_yet(hire) for hire in due if not any(_is_of(out, hire) for out in handed_out)}


def _is_of(out: Hire, hire: AgreedHire) -> bool:
    return out.person_id == hire.quote.person_id and out.since <= hire.last_day and out.until >= hire.start


def _not_yet(hire: AgreedHire) -> str:
    return f"No machine is written down as handed out to {hire.quote.person} from {hire.start:%-d %b %Y}."
