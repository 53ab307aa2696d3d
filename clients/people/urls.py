from django.urls import path

from clients.people import views

urlpatterns = [
    path("people/", views.people, name="people"),
    path("people/vcards/", views.people_vcards, name="people-vcards"),
    path("people/<int:pk>/vcard/", views.person_vcard, name="person-vcard"),
    path("people/new/", views.person_new, name="person-new"),
    path("people/<int:pk>/edit/", views.person_edit, name="person-edit"),
    path("barns/", views.barns, name="barns"),
    path("barns/new/", views.barn_new, name="barn-new"),
    path("barns/<int:pk>/edit/", views.barn_edit, name="barn-edit"),
    path("vet-practices/", views.vet_practices, name="vet-practices"),
    path("vet-practices/new/", views.vet_practice_new, name="vet-practice-new"),
    path("vet-practices/<int:pk>/edit/", views.vet_practice_edit, name="vet-practice-edit"),
]
