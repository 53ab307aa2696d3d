from django.urls import path

from billing.quotes import life_views, option_views, owner_views, views

urlpatterns = [
    path("quotes/", views.quotes, name="quotes"),
    path("quotes/new/", views.quote_new, name="quote-new"),
    path("quotes/<int:pk>/", views.quote, name="quote"),
    path("quotes/<int:pk>/edit/", views.quote_edit, name="quote-edit"),
    path("quotes/<int:pk>/offer/", life_views.quote_offer, name="quote-offer"),
    path("quotes/<int:pk>/link/", life_views.quote_link, name="quote-link"),
    path("quotes/<int:pk>/replace/", life_views.quote_replace, name="quote-replace"),
    path("quotes/<int:pk>/versions/", life_views.quote_versions, name="quote-versions"),
    path("quotes/questions/<int:pk>/answer/", life_views.question_answer, name="question-answer"),
    path("quotes/<int:pk>/pdf/", views.quote_paper, name="quote-pdf"),
    path("quotes/<int:pk>/start/", views.quote_start, name="quote-start"),
    path("quotes/<int:pk>/options/new/", option_views.option_new, name="option-new"),
    path("quotes/<int:pk>/options/quick/", option_views.option_quick, name="option-quick"),
    path("quotes/<int:pk>/options/fitting/", option_views.option_fitting, name="option-fitting"),
    path("quotes/<int:pk>/options/prefer-none/", option_views.option_prefer_none, name="option-prefer-none"),
    path("quotes/options/<int:pk>/edit/", option_views.option_edit, name="option-edit"),
    path("quotes/options/<int:pk>/prefer/", option_views.option_prefer, name="option-prefer"),
    path("quotes/options/<int:pk>/hide/", option_views.option_hide, name="option-hide"),
    path("quotes/options/<int:pk>/delete/", option_views.option_delete, name="option-delete"),
    path("p/quote/<str:token>/", owner_views.owner_quote, name="owner-quote"),
    path("p/quote/<str:token>/pdf/", owner_views.owner_quote_paper, name="owner-quote-pdf"),
    path("p/quote/<str:token>/ask/", owner_views.owner_quote_ask, name="owner-quote-ask"),
    path("p/quote/<str:token>/accept/", owner_views.owner_quote_accept, name="owner-quote-accept"),
    path("p/quote/<str:token>/decline/", owner_views.owner_quote_decline, name="owner-quote-decline"),
    path("p/quote/<str:token>/sign/", owner_views.owner_quote_sign, name="owner-quote-sign"),
]
