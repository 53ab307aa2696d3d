from django.urls import path

from billing.packages import kinds  # noqa: F401  registers what the pages of rates show
from billing.prices.views import rate_new, rates

urlpatterns = [
    path("settings/package-offers/", rates, {"kind": "package-offers"}, name="package-offers"),
    path("settings/package-offers/new/", rate_new, {"kind": "package-offers"}, name="package-offer-new"),
    path("settings/plan-offers/", rates, {"kind": "plan-offers"}, name="plan-offers"),
    path("settings/plan-offers/new/", rate_new, {"kind": "plan-offers"}, name="plan-offer-new"),
]
