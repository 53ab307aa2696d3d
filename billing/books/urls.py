from django.urls import path

from billing.books import views

urlpatterns = [
    path("money/month-end/", views.month, name="month-end"),
    path("money/month-end/<str:day>/close/", views.month_close, name="month-close"),
    path("money/tax/", views.tax, name="tax-period"),
    path("money/year/", views.year, name="year-report"),
    path("money/ledger/", views.ledger, name="ledger"),
    path("money/expenses/", views.expenses, name="expenses"),
    path("money/expenses/new/", views.expense_new, name="expense-new"),
    path("money/expenses/<int:pk>/", views.expense, name="expense"),
    path("money/expenses/<int:pk>/take-back/", views.expense_take_back, name="expense-take-back"),
]
