from django.apps import apps
from django.urls import URLPattern, URLResolver, include, path

from backoffice.documents.views import document
from backoffice.ui.views import icon, look

desk: list[URLPattern | URLResolver] = [
    path("", include("backoffice.team.urls")),
    path("", include("backoffice.office.urls")),
    path("", include("backoffice.upkeep.urls")),
    path("", include("backoffice.erasing.urls")),
    path("", include("backoffice.letters.urls")),
    path("documents/<int:pk>/", document, name="document"),
    path("look/", look, name="look"),
    path("favicon.ico", icon, name="icon"),
]

if apps.is_installed("billing"):
    desk += [
        path("", include("backoffice.home.urls")),
        path("", include("backoffice.office.first_urls")),
        path("", include("backoffice.lists.urls")),
    ]

urlpatterns: list[URLPattern | URLResolver] = [
    path("", include((desk, "backoffice"))),
    path("", include("clients.urls")),
]

if apps.is_installed("billing"):
    urlpatterns += [
        path("", include("billing.urls")),
    ]
