from django.urls import URLPattern

from clients.animals.urls import urlpatterns as animals
from clients.barnside.urls import urlpatterns as barnside
from clients.incidents.urls import urlpatterns as incidents
from clients.kit.urls import urlpatterns as kit
from clients.miles.urls import urlpatterns as miles
from clients.paperwork.urls import urlpatterns as paperwork
from clients.people.urls import urlpatterns as people
from clients.plans.urls import urlpatterns as plans
from clients.records.urls import urlpatterns as records
from clients.rounds.urls import urlpatterns as rounds
from clients.visits.urls import urlpatterns as visits
from clients.workdays.urls import urlpatterns as workdays

app_name = "clients"

urlpatterns: list[URLPattern] = [
    *people,
    *animals,
    *paperwork,
    *incidents,
    *plans,
    *kit,
    *workdays,
    *visits,
    *rounds,
    *barnside,
    *miles,
    *records,
]
