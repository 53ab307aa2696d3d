from django.urls import path

from clients.records import views

urlpatterns = [
    path("horses/<int:pk>/history/", views.animal_history, name="animal-history"),
]
