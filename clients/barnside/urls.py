from django.urls import path

from clients.barnside import desk_views, views

urlpatterns = [
    path("barn/", views.barn, name="barn-shell"),
    path("barn-keeper.js", views.keeper, name="barn-keeper"),
    path("barn/manifest.webmanifest", views.manifest, name="barn-manifest"),
    path("barn/hello/", views.hello, name="barn-hello"),
    path("barn/pack/", views.pack, name="barn-pack"),
    path("barn/entries/", views.entries, name="barn-entries"),
    path("barn/decisions/", desk_views.decisions, name="barn-decisions"),
    path("barn/decisions/<uuid:pk>/take/", desk_views.entry_take, name="barn-entry-take"),
    path("barn/decisions/<uuid:pk>/leave/", desk_views.entry_leave, name="barn-entry-leave"),
    path("phones/", desk_views.phones, name="phones"),
    path("phones/<int:pk>/remove/", desk_views.phone_remove, name="phone-remove"),
    path("phones/<int:pk>/let-in/", desk_views.phone_let_in, name="phone-let-in"),
]
