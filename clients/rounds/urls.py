from django.urls import path

from clients.rounds import views

urlpatterns = [
    path("rounds/<str:day>/<int:pk>/", views.round_page, name="round"),
    path("rounds/<str:day>/<int:pk>/plan/", views.round_plan, name="round-plan"),
    path("rounds/<str:day>/<int:pk>/sheet/", views.round_sheet, name="round-sheet"),
]
