from django.urls import path

from billing.prices import views

urlpatterns = [
    path("settings/prices/", views.prices, name="prices"),
    path("settings/prices/first/", views.prices_first, name="prices-first"),
    path("settings/prices/new/", views.rate_new, {"kind": "prices"}, name="price-new"),
    path("settings/prices/lists/new/", views.price_list_new, name="price-list-new"),
    path("settings/prices/lists/<int:pk>/", views.price_list, name="price-list"),
    path("settings/prices/lists/<int:pk>/edit/", views.price_list_edit, name="price-list-edit"),
    path("settings/call-outs/", views.rates, {"kind": "call-outs"}, name="call-outs"),
    path("settings/call-outs/new/", views.rate_new, {"kind": "call-outs"}, name="call-out-new"),
    path("settings/hire-rates/", views.rates, {"kind": "hire-rates"}, name="hire-rates"),
    path("settings/hire-rates/new/", views.rate_new, {"kind": "hire-rates"}, name="hire-rate-new"),
    path("settings/tax-rates/", views.rates, {"kind": "tax-rates"}, name="tax-rates"),
    path("settings/tax-rates/new/", views.rate_new, {"kind": "tax-rates"}, name="tax-rate-new"),
    path("settings/money-rules/", views.rates, {"kind": "money-rules"}, name="money-rules"),
    path("settings/money-rules/new/", views.rate_new, {"kind": "money-rules"}, name="money-rules-new"),
    path("settings/fee-rules/", views.rates, {"kind": "fee-rules"}, name="fee-rules"),
    path("settings/fee-rules/new/", views.rate_new, {"kind": "fee-rules"}, name="fee-rule-new"),
    path("settings/cost-rates/", views.rates, {"kind": "cost-rates"}, name="cost-rates"),
    path("settings/cost-rates/new/", views.rate_new, {"kind": "cost-rates"}, name="cost-rate-new"),
    path("settings/mileage-rates/", views.rates, {"kind": "mileage-rates"}, name="mileage-rates"),
    path("settings/mileage-rates/new/", views.rate_new, {"kind": "mileage-rates"}, name="mileage-rate-new"),
    path("settings/terms/", views.rates, {"kind": "terms"}, name="terms"),
    path("settings/terms/new/", views.rate_new, {"kind": "terms"}, name="terms-new"),
    path("settings/tax-exemptions/", views.rates, {"kind": "tax-exemptions"}, name="tax-exemptions"),
    path("settings/tax-exemptions/new/", views.rate_new, {"kind": "tax-exemptions"}, name="tax-exemption-new"),
    path("settings/payer-caps/", views.rates, {"kind": "payer-caps"}, name="payer-caps"),
    path("settings/payer-caps/new/", views.rate_new, {"kind": "payer-caps"}, name="payer-cap-new"),
    path("settings/<slug:kind>/<int:pk>/", views.rate_edit, name="rate-edit"),
    path("settings/<slug:kind>/<int:pk>/take-back/", views.rate_take_back, name="rate-take-back"),
]
