from django.urls import path

from billing.payments import views

urlpatterns = [
    path("money/", views.money, name="money"),
    path("money/payments/", views.payments, name="payments"),
    path("money/payments/<int:pk>/", views.payment, name="payment"),
    path("money/payers/", views.payers, name="payers"),
    path("money/payers/<int:pk>/", views.payer, name="payer"),
    path("money/payers/<int:pk>/statement/", views.payer_statement, name="payer-statement"),
    path("money/payers/<int:pk>/use-credit/", views.payer_use_credit, name="payer-use-credit"),
    path("money/payers/<int:pk>/give-back/", views.payer_give_back, name="payer-give-back"),
    path("money/payers/<int:payer_pk>/payment/", views.payment_new, name="payment-new"),
]
