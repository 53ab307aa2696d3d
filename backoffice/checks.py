"""What must be set before real work starts; each missing value is one sentence."""

from collections.abc import Iterable
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, register
from django.core.exceptions import ImproperlyConfigured


@register()
def required_values_are_set(app_configs: Any, **kwargs: Any) -> Iterable[CheckMessage]:
    if not settings.SETTINGS_MODULE.endswith(".prod"):
        return []
    found: list[CheckMessage] = []
    if len(_secret_key()) < 50:
        found.append(Error("SECRET_KEY is missing or shorter than 50 characters.", id="backoffice.E001"))
    if not settings.ALLOWED_HOSTS:
        found.append(Error("ALLOWED_HOSTS is missing: name the host that people type.", id="backoffice.E002"))
    if not settings.PUBLIC_ADDRESS.startswith("https://"):
        found.append(
            Error(
                "PUBLIC_ADDRESS is missing or is not https: private links would travel in the open.",
                id="backoffice.E003",
            )
        )
    return found


def _secret_key() -> str:
    try:
        return str(settings.SECRET_KEY)
    except ImproperlyConfigured:  # Django's own word for an empty one
        return ""
