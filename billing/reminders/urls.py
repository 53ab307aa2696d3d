from django.urls import path

from billing.reminders import owner_views, views

urlpatterns = [
    path("money/reminders/", views.reminders, name="reminders"),
    path("money/reminders/look/", views.reminders_draft, name="reminders-draft"),
    path("money/reminders/<int:pk>/send/", views.reminder_send, name="reminder-send"),
    path("money/reminders/<int:pk>/drop/", views.reminder_drop, name="reminder-drop"),
    path("money/invoices/<int:pk>/mail/", views.invoice_mail, name="invoice-mail"),
    path("money/invoices/runs/<int:pk>/mail/", views.run_mail, name="invoice-run-mail"),
    path("money/questions/<int:pk>/", views.money_question, name="money-question"),
    path("money/payers/<int:pk>/page/", views.payer_page, name="payer-page"),
    path("settings/reminders/", views.stages, name="reminder-stages"),
    path("settings/reminders/new/", views.stage_new, name="reminder-stage-new"),
    path("settings/reminders/<int:pk>/", views.stage_change, name="reminder-stage"),
    path("p/money/<str:token>/", owner_views.owner_money, name="owner-money"),
    path("p/money/<str:token>/ask/", owner_views.owner_money_ask, name="owner-money-ask"),
    path("p/money/<str:token>/paper/<str:kind>/<int:pk>/", owner_views.owner_money_paper, name="owner-money-paper"),
]
