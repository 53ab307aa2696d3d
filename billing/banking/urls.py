from django.urls import path

from billing.banking import views

urlpatterns = [
    path("money/bank/", views.bank_file, name="bank-file"),
    path("money/bank/lines/", views.bank_lines, name="bank-lines"),
    path("money/bank/sure/", views.bank_book_sure, name="bank-book-sure"),
    path("money/bank/files/<int:pk>/", views.bank_decide, name="bank-decide"),
    path("money/bank/lines/<int:pk>/", views.bank_line, name="bank-line"),
    path("money/bank/lines/<int:pk>/book/", views.bank_book, name="bank-book"),
    path("money/bank/lines/<int:pk>/again/", views.bank_wait_again, name="bank-wait-again"),
]
