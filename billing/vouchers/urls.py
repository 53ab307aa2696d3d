from django.urls import path

from billing.vouchers import views

urlpatterns = [
    path("money/vouchers/", views.vouchers, name="vouchers"),
    path("money/payers/<int:payer_pk>/voucher/", views.voucher_sell, name="voucher-sell"),
]
