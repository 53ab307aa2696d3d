from django.contrib.auth.views import LogoutView
from django.urls import path

from backoffice.team import account_views, views

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("settings/team/", account_views.team, name="team"),
    path("settings/team/new/", account_views.new_account, name="account-new"),
    path("settings/team/<int:pk>/", account_views.edit_account, name="account-edit"),
    path("settings/team/<int:pk>/password/", account_views.set_password, name="account-password"),
    path("settings/team/<int:pk>/close/", account_views.close_account, name="account-close"),
    path("settings/team/<int:pk>/reopen/", account_views.reopen_account, name="account-reopen"),
]
