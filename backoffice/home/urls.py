from django.urls import path

from backoffice.home import paper_views, views

urlpatterns = [
    path("", views.today, name="today"),
    path("today/<slug:key>/", views.attention, name="attention"),
    path("search/", views.search_page, name="search"),
    path("help/", views.help_page, name="help"),
    path("papers/", paper_views.papers, name="papers"),
    path("papers/zip/", paper_views.papers_zip, name="papers-zip"),
]
