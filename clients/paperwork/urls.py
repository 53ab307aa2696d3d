from django.urls import path

from clients.paperwork import link_views, scan_views, settings_views, views

urlpatterns = [
    path("paperwork/", views.paperwork, name="paperwork"),
    path("paperwork/forms/", views.forms, name="forms"),
    path("paperwork/forms/new/", views.form_new, name="form-new"),
    path("paperwork/forms/<int:pk>/", views.form, name="form"),
    path("paperwork/forms/<int:pk>/sign/", views.form_sign, name="form-sign"),
    path("paperwork/forms/<int:pk>/print/", scan_views.form_print, name="form-print"),
    path("paperwork/forms/<int:pk>/on-paper/", scan_views.form_on_paper, name="form-on-paper"),
    path("paperwork/forms/<int:pk>/link/", views.form_link, name="form-link"),
    path("paperwork/forms/<int:pk>/withdraw/", views.form_withdraw, name="form-withdraw"),
    path("paperwork/referrals/<int:pk>/", views.referral, name="referral"),
    path("paperwork/referrals/<int:pk>/letter/", scan_views.referral_letter, name="referral-letter"),
    path("paperwork/referrals/<int:pk>/link/", views.referral_link, name="referral-link"),
    path("horses/<int:animal_pk>/ask-the-vet/", views.referral_new, name="referral-new"),
    path("paperwork/stop-notes/<int:pk>/close/", views.stop_note_close, name="stop-note-close"),
    path("paperwork/decisions/<int:pk>/", views.decision, name="decision"),
    path("settings/wordings/", settings_views.wordings, name="wordings"),
    path("settings/wordings/new/", settings_views.wording_new, name="wording-new"),
    path("settings/wordings/preview/", settings_views.wording_preview, name="wording-preview"),
    path("settings/wordings/starters/", settings_views.wording_starters, name="wording-starters"),
    path("settings/wordings/<int:pk>/", settings_views.wording, name="wording"),
    path("settings/wordings/<int:pk>/versions/new/", settings_views.wording_version_new, name="wording-version-new"),
    path("settings/laws/", settings_views.laws, name="laws"),
    path("settings/laws/new/", settings_views.law_new, name="law-new"),
    path("p/form/<str:token>/", link_views.owner_form, name="owner-form"),
    path("p/form/<str:token>/copy/", link_views.owner_form_copy, name="owner-form-copy"),
    path("p/vet/<str:token>/", link_views.vet_referral, name="vet-referral"),
    path("p/vet/<str:token>/copy/", link_views.vet_referral_copy, name="vet-referral-copy"),
]
