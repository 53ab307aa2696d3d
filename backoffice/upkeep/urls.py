from django.urls import path

from backoffice.upkeep import views

urlpatterns = [path("settings/backups/", views.backups, name="backups")]
