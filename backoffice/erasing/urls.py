from django.urls import path

from backoffice.erasing import views

urlpatterns = [
    path("settings/keeping/", views.keeping, name="keeping"),
    path("settings/keeping/<slug:kind>/", views.keep_rule, name="keep-rule"),
    path("people/<int:pk>/kept/", views.person_kept, name="person-kept"),
    path("people/<int:pk>/data/", views.person_data, name="person-data"),
]
