from django.urls import path

from billing.starting import views

urlpatterns = [
    path("settings/first-day/", views.starting, name="starting"),
    path("settings/first-day/driving/", views.bring_driving, name="bring-driving"),
    path("settings/first-day/<str:kind>/", views.bring, name="bring"),
]
