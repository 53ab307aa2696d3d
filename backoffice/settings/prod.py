"""Real work: every value that must differ between businesses comes from the environment, or the start stops."""

import os

from backoffice.settings.base import *

BEHIND_PROXY = os.environ.get("BEHIND_PROXY", "1") == "1"  # it sets both headers, whatever a visitor sends
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
SECURE_SSL_REDIRECT = os.environ.get("SECURE_SSL_REDIRECT", "1") == "1"
SECURE_HSTS_SECONDS = int(os.environ.get("SECURE_HSTS_SECONDS", "31536000"))
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
SESSION_COOKIE_SECURE = True
CSRF_COOKIE_SECURE = True
SESSION_COOKIE_NAME = "__Host-session"  # the prefix has a browser refuse it from elsewhere, and without https
CSRF_COOKIE_NAME = "__Host-csrf"
SECURE_REDIRECT_EXEMPT = [r"^health/$"]  # asked from inside, where there is no https
CSRF_TRUSTED_ORIGINS = [PUBLIC_ADDRESS] if PUBLIC_ADDRESS.startswith("https://") else []
