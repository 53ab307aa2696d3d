#!/usr/bin/env python
import os
import sys


def main() -> None:
    from django.core.management import execute_from_command_line

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "backoffice.settings.dev")
    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
