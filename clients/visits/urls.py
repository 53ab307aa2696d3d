from django.urls import path

from clients.visits.views import booking, diary, hiring, horse, monday, plan, sheet

urlpatterns = [
    path("diary/", diary.week, name="diary"),
    path("diary/month/", diary.month, name="diary-month"),
    path("paperwork/monday/", monday.monday, name="monday"),
    path("visits/<int:pk>/", booking.visit, name="visit"),
    path("visits/<int:pk>/book/", booking.visit_book, name="visit-book"),
    path("visits/<int:pk>/confirm/", booking.visit_confirm, name="visit-confirm"),
    path("visits/<int:pk>/cancel/", booking.visit_cancel, name="visit-cancel"),
    path("visits/<int:pk>/sheet/", sheet.visit_sheet, name="visit-sheet"),
    path("visits/<int:pk>/complete/", sheet.visit_complete, name="visit-complete"),
    path("visits/<int:pk>/could-not/", sheet.visit_could_not, name="visit-could-not"),
    path("visits/<int:pk>/stop/", sheet.visit_stop, name="visit-stop"),
    path("visits/<int:pk>/next/", sheet.visit_next, name="visit-next"),
    path("plans/<int:pk>/", plan.plan, name="plan"),
    path("plans/<int:pk>/propose/", plan.plan_propose, name="plan-propose"),
    path("plans/<int:pk>/book-all/", plan.plan_book_all, name="plan-book-all"),
    path("plans/<int:pk>/run/", plan.plan_run, name="plan-run"),
    path("plans/<int:pk>/pause/", plan.plan_pause, name="plan-pause"),
    path("plans/<int:pk>/finish/", plan.plan_finish, name="plan-finish"),
    path("plans/<int:pk>/stop/", plan.plan_stop, name="plan-stop"),
    path("plans/<int:pk>/spots/", plan.plan_spots, name="plan-spots"),
    path("plans/<int:pk>/start/", plan.plan_start, name="plan-start"),
    path("plans/<int:pk>/review/", plan.plan_review, name="plan-review"),
    path("machines/<int:pk>/hire/", hiring.hire_new, name="hire-new"),
    path("horses/<int:pk>/", horse.animal, name="animal"),
    path("horses/<int:pk>/sold/", horse.animal_sold, name="animal-sold"),
    path("horses/<int:pk>/died/", horse.animal_died, name="animal-died"),
    path("horses/<int:pk>/lives/", horse.animal_lives, name="animal-lives"),
]
