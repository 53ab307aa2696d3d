from django.urls import path

from billing.packages import kinds, views  # noqa: F401  kinds registers what the pages of rates show
from billing.prices.views import rate_new, rates

urlpatterns = [
    path("money/packages/", views.packages, name="packages"),
    path("money/packages/<int:pk>/", views.package, name="package"),
    path("money/packages/<int:pk>/keep/", views.package_keep, name="package-keep"),
    path("money/uses/<int:pk>/undo/", views.use_undo, name="use-undo"),
    path("money/monthly-plans/", views.monthly_runs, name="monthly-runs"),
    path("money/monthly-plans/<int:pk>/", views.monthly_run, name="monthly-run"),
    path("money/monthly-plans/<int:pk>/stop/", views.monthly_run_stop, name="monthly-run-stop"),
    path("money/payers/<int:payer_pk>/package/", views.package_sell, name="package-sell"),
    path("money/payers/<int:payer_pk>/monthly-plan/", views.monthly_run_start, name="monthly-run-start"),
    path("settings/package-offers/", rates, {"kind": "package-offers"}, name="package-offers"),
    path("settings/package-offers/new/", rate_new, {"kind": "package-offers"}, name="package-offer-new"),
    path("settings/plan-offers/", rates, {"kind": "plan-offers"}, name="plan-offers"),
    path("settings/plan-offers/new/", rate_new, {"kind": "plan-offers"}, name="plan-offer-new"),
]
