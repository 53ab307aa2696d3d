"""Passwords that somebody who knows the business would try first: the context-specific words of NIST SP 800-63B-4."""

import re
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.exceptions import ValidationError

from backoffice.business.queries import the_business

ALWAYS = (
    "back office",
    "horse wellness back office",
    "owner manager practitioner",
    "practitioner assistant bookkeeper",
)


class ContextWords:
    """Refuses a password that is one of these words, whatever its case, spaces, signs, figures around it, or written
    twice: what the product calls itself and its roles, the names, mail and address of the business."""

    def validate(self, password: str, user: Any = None) -> None:
        business = the_business()
        host = urlsplit(settings.PUBLIC_ADDRESS).hostname or ""
        known = {_bare(word) for word in (*ALWAYS, business.name, business.email, host)} - {""}
        if _once(_bare(password)) in known:
            raise ValidationError("Somebody who knows the business would guess this. Choose another sentence.")

    def get_help_text(self) -> str:
        return "Not the name of the business."


def _bare(text: str) -> str:
    return re.sub(r"[\W_]", "", text.casefold()).strip("0123456789")


def _once(text: str) -> str:
    half = len(text) // 2
    return text[:half] if text and text[:half] == text[half:] else text
