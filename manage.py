#!/usr/bin/env python
import os
import sys


def main() -> None:
    from django.core.management import execute_from_command_line

    # The demo has a database of its own, so it can start again from nothing without touching real work.
    settings = {"demo": "demo", "serve": "local"}.get("".join(sys.argv[1:2]), "dev")
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", f"backoffice.settings.{settings}")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
