"""The server for real work: gunicorn in this process, on a database and static files that are up to date."""

from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import connections

WORKERS, THREADS = 2, 4


def prepare() -> None:
    """Bring the database and the static files up to date."""
    call_command("migrate", interactive=False, verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


def serve(*, bind: str, port: int) -> None:
    """Serve until stopped."""
    from gunicorn.app.base import BaseApplication

    connections.close_all()  # a worker must not inherit an open connection

    class Server(BaseApplication):  # type: ignore[misc]
        def load_config(self) -> None:
            for name, value in options(bind=bind, port=port).items():
                self.cfg.set(name, value)

        def load(self) -> Any:
            from backoffice.wsgi import application

            return application

    Server().run()


def options(*, bind: str, port: int) -> dict[str, object]:
    host = f"[{bind}]" if ":" in bind else bind
    return {
        "bind": f"{host}:{port}",
        "workers": WORKERS,
        "threads": THREADS,
        "worker_class": "gthread",
        "max_requests": 5000,
        "max_requests_jitter": 500,
        "proc_name": "back-office",
        "loglevel": "warning",
    }


def address(*, bind: str, port: int) -> str:
    """What to type into the browser of this machine."""
    if settings.PUBLIC_ADDRESS.startswith("https://"):
        return str(settings.PUBLIC_ADDRESS)
    host = "127.0.0.1" if bind in {"0.0.0.0", "::"} else bind  # noqa: S104  (compared, not bound)
    return f"http://{host}:{port}"
