from django.urls import path

from backoffice.upkeep import views
from backoffice.upkeep.health import health

urlpatterns = [
    path("health/", health, name="health"),
    path("settings/backups/", views.backups, name="backups"),
    path("settings/backups/forget-failed-work/", views.jobs_forget, name="jobs-forget"),
    path("settings/everything/", views.take_along, name="take-along"),
]
