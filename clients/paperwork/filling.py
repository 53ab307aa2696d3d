"""The fields of a wording: `{horse}` in a text becomes the horse's name on the form."""

import re
from collections.abc import Mapping

FIELDS: Mapping[str, str] = {
    "horse": "name of the horse",
    "owner": "names of the owners on the day of signing",
    "signer": "who signs",
    "barn": "name of the barn",
    "business": "name of your business",
    "agent": "who may act for the owners (agent's authority)",
    "cap": "spending cap a month (agent's authority)",
}
BLANK = "______"
_FIELD = re.compile(r"\{([^{}\n]{0,40})\}")


def unknown_fields(text: str) -> list[str]:
    """Names in braces that are no field, in the order in which they stand."""
    return [name for name in _FIELD.findall(text) if name not in FIELDS]


def fields_in(text: str) -> set[str]:
    return {name for name in _FIELD.findall(text) if name in FIELDS}


def filled(text: str, values: Mapping[str, str]) -> str:
    """The text with each field replaced; a field without a value becomes a blank line to see, never nothing.

    A value that itself looks like a field is not filled again.
    """
    return _FIELD.sub(lambda match: _value(match, values), text)


def _value(match: re.Match[str], values: Mapping[str, str]) -> str:
    name = match.group(1)
    return (values.get(name) or BLANK) if name in FIELDS else match.group(0)
