"""What the tests of the screens share."""

from html import unescape

HONEST = "A rule of thumb of the trade, not a promise. Not a substitute for veterinary care."
SCRIPT = "<script>alert(1)</script>"


def page_of(response) -> str:
    return unescape(response.content.decode())
