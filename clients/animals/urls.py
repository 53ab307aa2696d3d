from django.urls import path

from clients.animals import views

urlpatterns = [
    path("enquiry/", views.enquiry_new, name="enquiry-new"),
    path("people/<int:pk>/", views.person, name="person"),
    path("barns/<int:pk>/", views.barn, name="barn"),
    path("vet-practices/<int:pk>/", views.vet_practice, name="vet-practice"),
    path("horses/", views.animals, name="animals"),
    path("horses/new/", views.animal_new, name="animal-new"),
    path("horses/<int:pk>/edit/", views.animal_edit, name="animal-edit"),
    path("horses/<int:pk>/photo/", views.animal_photo, name="animal-photo"),
    path("horses/<int:pk>/owners/", views.animal_owners, name="animal-owners"),
    path("horses/<int:pk>/roles/", views.animal_roles, name="animal-roles"),
    path("horses/<int:pk>/move/", views.animal_move, name="animal-move"),
    path("horses/<int:pk>/health/", views.animal_health, name="animal-health"),
    path("horses/<int:pk>/cautions/new/", views.caution_new, name="caution-new"),
    path("horses/<int:pk>/measures/<str:kind>/", views.measure_new, name="measure-new"),
    path("measures/<int:pk>/take-back/", views.measure_take_back, name="measure-take-back"),
    path("cautions/<int:pk>/end/", views.caution_end, name="caution-end"),
]
