from django.urls import path

from backoffice.lists import views

urlpatterns = [
    path("settings/lists/", views.lists, name="lists"),
    path("settings/lists/<int:pk>/", views.brought_list, name="list"),
    path("settings/lists/<int:pk>/undo/", views.list_undo, name="list-undo"),
]
