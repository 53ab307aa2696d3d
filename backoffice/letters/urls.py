from django.urls import path

from backoffice.letters import views
from backoffice.letters.models import Letter

urlpatterns = [
    path("letters/", views.letters, name="letters"),
    path("letters/try/", views.letters_try, name="letters-try"),
    path("letters/<int:pk>/", views.letter, name="letter"),
    path("letters/<int:pk>/send/", views.letter_send, name="letter-send"),
    path("letters/<int:pk>/by-hand/", views.letter_end, {"state": Letter.State.BY_HAND}, name="letter-by-hand"),
    path("letters/<int:pk>/drop/", views.letter_end, {"state": Letter.State.DROPPED}, name="letter-drop"),
]
