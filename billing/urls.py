from django.urls import include, path

app_name = "billing"

urlpatterns = [
    path("", include("billing.reports.urls")),
    path("", include("billing.books.urls")),
    path("", include("billing.mileage.urls")),
    path("", include("billing.reminders.urls")),
    path("", include("billing.starting.urls")),
    path("", include("billing.banking.urls")),
    path("", include("billing.payments.urls")),
    path("", include("billing.invoices.urls")),
    path("", include("billing.quotes.urls")),
    path("", include("billing.vouchers.urls")),
    path("", include("billing.packages.urls")),
    path("", include("billing.prices.urls")),
]
