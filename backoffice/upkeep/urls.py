from django.urls import path

from backoffice.upkeep import views

urlpatterns = [
    path("settings/backups/", views.backups, name="backups"),
    path("settings/everything/", views.take_along, name="take-along"),
]
