from django.urls import path

from billing.reports import views

urlpatterns = [
    path("reports/", views.reports, name="reports"),
    path("reports/<slug:name>/", views.report, name="report"),
]
