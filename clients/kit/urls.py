from django.urls import path

from clients.kit import views

urlpatterns = [
    path("machines/", views.machine_list, name="machines"),
    path("machines/new/", views.machine_new, name="machine-new"),
    path("machines/<int:pk>/", views.machine, name="machine"),
    path("machines/<int:pk>/edit/", views.machine_edit, name="machine-edit"),
    path("hires/<int:pk>/back/", views.hire_back, name="hire-back"),
    path("applicators/", views.applicator_list, name="applicators"),
    path("applicators/new/", views.applicator_new, name="applicator-new"),
    path("applicators/<int:pk>/", views.applicator_edit, name="applicator-edit"),
]
