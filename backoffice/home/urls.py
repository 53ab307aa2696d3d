from django.urls import path

from backoffice.home import views

urlpatterns = [
    path("", views.today, name="today"),
    path("today/<slug:key>/", views.attention, name="attention"),
    path("search/", views.search_page, name="search"),
]
