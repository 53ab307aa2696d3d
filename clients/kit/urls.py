from django.urls import path

from clients.kit import hire_views, views

urlpatterns = [
    path("machines/", views.machine_list, name="machines"),
    path("machines/new/", views.machine_new, name="machine-new"),
    path("machines/<int:pk>/", views.machine, name="machine"),
    path("machines/<int:pk>/edit/", views.machine_edit, name="machine-edit"),
    path("machines/calendar/", views.calendar, name="hire-calendar"),
    path("machines/<int:pk>/inspected/", views.inspection_new, name="inspection-new"),
    path("machines/<int:pk>/fault/", views.fault_new, name="fault-new"),
    path("machines/faults/<int:pk>/put-right/", views.fault_put_right, name="fault-put-right"),
    path("hires/<int:pk>/handover/", hire_views.hire_handover, name="hire-handover"),
    path("hires/<int:pk>/back/", hire_views.hire_back, name="hire-back"),
    path("applicators/", views.applicator_list, name="applicators"),
    path("applicators/new/", views.applicator_new, name="applicator-new"),
    path("applicators/<int:pk>/", views.applicator_edit, name="applicator-edit"),
]
