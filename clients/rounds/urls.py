from django.urls import path

from clients.rounds import move_views, views

urlpatterns = [
    path("visits/new/", move_views.visit_new, name="visit-new"),
    path("visits/<int:pk>/move/", move_views.visit_move, name="visit-move"),
    path("visits/<int:pk>/move/days/", move_views.visit_move_days, name="visit-move-days"),
    path("rounds/<str:day>/<int:pk>/", views.round_page, name="round"),
    path("rounds/<str:day>/<int:pk>/plan/", views.round_plan, name="round-plan"),
    path("rounds/<str:day>/<int:pk>/sheet/", views.round_sheet, name="round-sheet"),
]
