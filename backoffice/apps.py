from django.apps import AppConfig


class BackofficeConfig(AppConfig):
    name = "backoffice"
    verbose_name = "Back office"

    def ready(self) -> None:
        from backoffice import checks  # noqa: F401  (registers the start-up checks)
        from backoffice.team import sessions  # noqa: F401  (listens to who signs in and out)
