from django.urls import path

from billing.invoices import batch_views, by_hand_views, views

urlpatterns = [
    path("money/uncharged/", views.uncharged, name="uncharged"),
    path("money/uncharged/<str:day>/confirm/", views.charges_confirm, name="charges-confirm"),
    path("money/uncharged/<str:day>/<slug:key>/waive/", views.charge_waive, name="charge-waive"),
    path("money/payers/<int:payer_pk>/charge/", by_hand_views.charge_new, name="charge-new"),
    path("money/charges/<int:pk>/take-back/", by_hand_views.charge_take_back, name="charge-take-back"),
    path("money/invoices/", views.invoices, name="invoices"),
    path("money/invoices/draft/", views.invoices_draft, name="invoices-draft"),
    path("money/invoices/issue/", batch_views.run_start, name="invoice-run-start"),
    path("money/invoices/issue/<int:pk>/", batch_views.run, name="invoice-run"),
    path("money/invoices/papers/", batch_views.papers, name="invoice-papers"),
    path("money/invoices/<int:pk>/", views.invoice, name="invoice"),
    path("money/invoices/<int:pk>/issue/", views.invoice_issue, name="invoice-issue"),
    path("money/invoices/<int:pk>/credit/", views.invoice_credit, name="invoice-credit"),
    path("money/invoices/<int:pk>/write-off/", views.invoice_write_off, name="invoice-write-off"),
    path("money/invoices/<int:pk>/ask-again/", views.invoice_ask_again, name="invoice-ask-again"),
    path("money/invoices/<int:pk>/discard/", views.invoice_discard, name="invoice-discard"),
]
