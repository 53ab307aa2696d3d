"""How much of the guideline an option covers, in a sentence that can be checked by hand."""

from billing.quotes.request import PricingRequest
from clients.plans.cadence import Kind
from clients.plans.coverage import Coverage


def say_coverage(request: PricingRequest, coverage: Coverage | None) -> str:
    """Such as "600 of the guideline's 960 minutes: 10 of 10 full bodies of 60 min, 0 of 18 spots of 20 min. …"."""
    if coverage is None or request.guideline is None:
        return ""
    met = [
        f"{met} of {planned} {word} of {request.services[kind].minutes} min"
        for kind, met, planned, word in (
            (Kind.FULL, coverage.full_met, coverage.full_planned, "full bodies"),
            (Kind.SPOT, coverage.spots_met, coverage.spots_planned, "spots"),
        )
        if planned
    ]
    whole = f"{coverage.credited:,} of the guideline's {coverage.possible:,} minutes: {', '.join(met)}."
    return f"{whole} {_tolerance(request.guideline.tolerance_days)}" if coverage.full_planned else whole


def _tolerance(days: int) -> str:
    if not days:
        return "A full body counts on the guideline's own day."
    return f"A full body counts up to {days} day{'' if days == 1 else 's'} off the guideline's day."
