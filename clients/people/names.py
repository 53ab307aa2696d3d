"""Names compared as people would: case, accents and spaces apart."""

import unicodedata


def folded(name: str) -> str:
    """The name without case, accents and doubled spaces; letters of every script stay."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    return " ".join("".join(sign for sign in plain if not unicodedata.combining(sign)).split())


def erased_name(pk: int) -> str:
    """What stands in place of the name of somebody who was erased."""
    return f"Erased person {pk}"
