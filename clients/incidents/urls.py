from django.urls import path

from clients.incidents import views

urlpatterns = [
    path("paperwork/incidents/", views.incidents, name="incidents"),
    path("paperwork/incidents/new/", views.incident_new, name="incident-new"),
    path("paperwork/incidents/<int:pk>/", views.incident, name="incident"),
    path("paperwork/incidents/<int:pk>/add/", views.incident_add, name="incident-add"),
]
