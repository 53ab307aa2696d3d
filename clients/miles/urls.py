from django.urls import path

from clients.miles import views

urlpatterns = [
    path("mileage/", views.trip_list, name="trips"),
    path("mileage/log/", views.trips_log, name="trips-log"),
    path("mileage/new/", views.trip_new, name="trip-new"),
    path("mileage/<int:pk>/", views.trip, name="trip"),
    path("mileage/<int:pk>/correct/", views.trip_correct, name="trip-correct"),
]
