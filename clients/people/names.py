"""Names compared as people would: case, accents and spaces apart."""

import unicodedata


def folded(name: str) -> str:
    """The name without case, accents and doubled spaces; letters of every script stay."""
    plain = unicodedata.normalize("NFKD", name.casefold())
    return " ".join("".join(sign for sign in plain if not unicodedata.combining(sign)).split())
