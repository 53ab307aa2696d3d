from django.urls import path

from clients.workdays import views

urlpatterns = [
    path("diary/days/", views.workdays, name="workdays"),
    path("diary/days/away/", views.absence_new, name="absence-new"),
    path("diary/days/away/<int:pk>/drop/", views.absence_drop, name="absence-drop"),
    path("diary/days/base/<int:pk>/", views.own_base, name="own-base"),
    path("diary/days/holidays/", views.holidays, name="holidays"),
    path("diary/days/hours/<int:pk>/", views.working_hours, name="working-hours"),
]
