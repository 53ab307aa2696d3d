"""Packages and monthly plans among the kinds of rates: listed, recorded and changed as every price is."""

from billing.packages import forms, tables
from billing.packages.models import MonthlyPlan, Package
from billing.prices.kinds import KINDS, RateKind

KINDS["package-offers"] = RateKind(
    Package,
    forms.PackageForm,
    tables.PackageOfferTable,
    tables.OfferFilter,
    "Packages on sale",
    "package",
    "package-offer-new",
    "Several sessions, prepaid at one price. A package that is sold keeps the terms it was sold with.",
    beside=("parts__service",),
)
KINDS["plan-offers"] = RateKind(
    MonthlyPlan,
    forms.MonthlyPlanForm,
    tables.MonthlyOfferTable,
    tables.OfferFilter,
    "Monthly plans on sale",
    "monthly plan",
    "plan-offer-new",
    "A price a month for the sessions of one horse. One that runs keeps the terms it started with.",
    beside=("parts__service",),
)
