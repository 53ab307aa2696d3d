from django.apps import apps
from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("clients.urls")),
]

if apps.is_installed("billing"):
    urlpatterns += [
        path("", include("billing.urls")),
    ]
