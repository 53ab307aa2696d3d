from django.urls import path

from clients.plans import views

urlpatterns = [
    path("settings/services/", views.service_list, name="services"),
    path("settings/services/new/", views.service_new, name="service-new"),
    path("settings/services/<int:pk>/", views.service_edit, name="service-edit"),
    path("settings/guidelines/", views.guideline_list, name="guidelines"),
    path("settings/guidelines/new/", views.guideline_new, name="guideline-new"),
    path("settings/guidelines/starters/", views.guideline_starters, name="guideline-starters"),
    path("settings/guidelines/<int:pk>/", views.guideline, name="guideline"),
    path("settings/guidelines/<int:pk>/version/", views.guideline_version_new, name="guideline-version-new"),
]
