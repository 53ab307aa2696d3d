"""The care side by itself: shows that `clients` needs nothing of `billing`."""

from backoffice.settings.test import *

INSTALLED_APPS = [app for app in INSTALLED_APPS if app != "billing"]
