from django.urls import path

from clients.rounds import fail_views, late_views, move_views, plan_views, stop_views, team_views, views

urlpatterns = [
    path("diary/planner/", plan_views.planner, name="planner"),
    path("diary/planner/<int:pk>/", plan_views.planning, name="planning"),
    path("diary/planner/<int:pk>/stop/", plan_views.planning_stop, name="planning-stop"),
    path("diary/planner/<int:pk>/accept/", plan_views.planning_accept, name="planning-accept"),
    path("rounds/<str:day>/<int:pk>/fail/", fail_views.day_fail, name="day-fail"),
    path("failed-days/<int:pk>/", fail_views.failed_day, name="failed-day"),
    path("failed-days/<int:pk>/told/<int:person_pk>/", fail_views.failed_day_told, name="failed-day-told"),
    path("failed-days/<int:pk>/put-back/", fail_views.failed_day_put_back, name="failed-day-put-back"),
    path("visits/new/", move_views.visit_new, name="visit-new"),
    path("visits/<int:pk>/move/", move_views.visit_move, name="visit-move"),
    path("visits/<int:pk>/move/days/", move_views.visit_move_days, name="visit-move-days"),
    path("rounds/<str:day>/", team_views.team_rounds, name="team-rounds"),
    path("rounds/<str:day>/<int:pk>/", views.round_page, name="round"),
    path("rounds/<str:day>/<int:pk>/plan/", views.round_plan, name="round-plan"),
    path("rounds/<str:day>/<int:pk>/late/", late_views.round_late, name="round-late"),
    path("rounds/<str:day>/<int:pk>/late/<int:person_pk>/", late_views.round_late_told, name="round-late-told"),
    path("rounds/<str:day>/<int:pk>/lock/", stop_views.round_lock, name="round-lock"),
    path("rounds/<str:day>/<int:pk>/clean/", stop_views.round_clean, name="round-clean"),
    path("rounds/<str:day>/<int:pk>/order/", views.round_order, name="round-order"),
    path("rounds/<str:day>/<int:pk>/sheet/", views.round_sheet, name="round-sheet"),
]
