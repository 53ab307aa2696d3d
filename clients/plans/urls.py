from django.urls import path

from clients.plans.views import guidelines, services

urlpatterns = [
    path("settings/services/", services.service_list, name="services"),
    path("settings/services/new/", services.service_new, name="service-new"),
    path("settings/services/<int:pk>/", services.service_edit, name="service-edit"),
    path("settings/guidelines/", guidelines.guideline_list, name="guidelines"),
    path("settings/guidelines/new/", guidelines.guideline_new, name="guideline-new"),
    path("settings/guidelines/starters/", guidelines.guideline_starters, name="guideline-starters"),
    path("settings/guidelines/draw/", guidelines.guideline_draw, name="guideline-draw"),
    path("settings/guidelines/<int:pk>/", guidelines.guideline, name="guideline"),
    path("settings/guidelines/<int:pk>/version/", guidelines.guideline_version_new, name="guideline-version-new"),
]
