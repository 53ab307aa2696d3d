from django.urls import path

from backoffice.office import first

urlpatterns = [path("welcome/<slug:name>/", first.step, name="first-step")]
