from django.urls import path

from billing.payments import banking_views, security_views, views

urlpatterns = [
    path("money/", views.money, name="money"),
    path("money/payments/", views.payments, name="payments"),
    path("money/payments/<int:pk>/", views.payment, name="payment"),
    path("money/payments/<int:pk>/returned/", banking_views.check_returned, name="check-returned"),
    path("money/to-the-bank/", banking_views.bank, name="bank-takings"),
    path("money/deposits/", security_views.deposits, name="deposits"),
    path("money/deposits/<int:pk>/", security_views.deposit_settle, name="deposit-settle"),
    path("money/payers/<int:payer_pk>/deposit/", security_views.deposit_take, name="deposit-take"),
    path("money/card-payout/", banking_views.card_payout, name="card-payout"),
    path("money/payers/", views.payers, name="payers"),
    path("money/payers/<int:pk>/", views.payer, name="payer"),
    path("money/payers/<int:pk>/statement/", views.payer_statement, name="payer-statement"),
    path("money/payers/<int:pk>/use-credit/", views.payer_use_credit, name="payer-use-credit"),
    path("money/payers/<int:pk>/give-back/", views.payer_give_back, name="payer-give-back"),
    path("money/payers/<int:payer_pk>/payment/", views.payment_new, name="payment-new"),
]
