from django.contrib.auth.views import LogoutView
from django.urls import path

from backoffice.team import account_views, own_views, trail_views, views

urlpatterns = [
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-in/second/", views.second_step, name="sign-in-second"),
    path("sign-in/passkey/question/", views.passkey_question, name="passkey-question"),
    path("sign-in/passkey/", views.passkey_answer, name="passkey-answer"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("account/", own_views.own_account, name="own-account"),
    path("account/sure/", own_views.sure, name="own-sure"),
    path("account/password/", own_views.own_password, name="own-password"),
    path("account/codes/", own_views.own_codes, name="own-codes"),
    path("account/codes/drop/", own_views.own_codes_drop, name="own-codes-drop"),
    path("account/recovery/", own_views.own_recovery, name="own-recovery"),
    path("account/passkeys/new/", own_views.own_passkey_new, name="own-passkey-new"),
    path("account/passkeys/question/", own_views.own_passkey_question, name="own-passkey-question"),
    path("account/passkeys/<int:pk>/drop/", own_views.own_passkey_drop, name="own-passkey-drop"),
    path("account/signed-in/<int:pk>/end/", own_views.own_session_end, name="own-session-end"),
    path("account/signed-in/end/", own_views.own_sessions_end, name="own-sessions-end"),
    path("settings/team/", account_views.team, name="team"),
    path("settings/team/powers/", account_views.powers, name="powers"),
    path("settings/team/new/", account_views.new_account, name="account-new"),
    path("settings/team/<int:pk>/", account_views.edit_account, name="account-edit"),
    path("settings/team/<int:pk>/invite/", account_views.invite, name="account-invite"),
    path("p/account/<str:token>/", account_views.choose_password, name="account-choose"),
    path("settings/team/<int:pk>/password/", account_views.set_password, name="account-password"),
    path("settings/team/<int:pk>/steps/", account_views.drop_steps, name="account-steps"),
    path("settings/team/<int:pk>/out/", account_views.sign_out_everywhere, name="account-out"),
    path("settings/team/<int:pk>/close/", account_views.close_account, name="account-close"),
    path("settings/team/<int:pk>/reopen/", account_views.reopen_account, name="account-reopen"),
    path("settings/trail/", trail_views.trail, name="trail"),
]
