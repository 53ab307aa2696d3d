from django.urls import path

from billing.mileage import views

urlpatterns = [path("money/mileage/", views.mileage_year, name="mileage")]
