from django.urls import path

from backoffice.office import views

urlpatterns = [
    path("welcome/", views.welcome, name="welcome"),
    path("settings/", views.settings, name="settings"),
    path("settings/business/", views.business, name="business"),
]
