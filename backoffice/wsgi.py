import gc
import os
from importlib import import_module

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "backoffice.settings.prod")
application = get_wsgi_application()

from backoffice.checks import required_values_are_set  # noqa: E402  (needs the settings)

if missing := [str(fault.msg) for fault in required_values_are_set(None)]:
    raise ImproperlyConfigured(" ".join(missing))

import_module(settings.ROOT_URLCONF)  # now, not while the first visitor waits
gc.collect()
gc.freeze()  # what is loaded stays: looking through it for garbage again and again was most of a slow page
