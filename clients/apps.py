from django.apps import AppConfig


class ClientsConfig(AppConfig):
    name = "clients"
    verbose_name = "Care"
