from django.urls import URLPattern

app_name = "clients"

urlpatterns: list[URLPattern] = []
