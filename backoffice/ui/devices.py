"""What a browser says of itself, in words to know one's own devices by."""

import re

SYSTEMS = (
    ("iPhone", r"iPhone"),
    ("iPad", r"iPad"),
    ("Android", r"Android"),
    ("Windows", r"Windows"),
    ("Mac", r"Macintosh|Mac OS X"),
    ("Linux", r"Linux"),
)
BROWSERS = (
    ("Edge", r"Edg"),
    ("Firefox", r"Firefox|FxiOS"),
    ("Chrome", r"Chrome|CriOS|Chromium"),
    ("Safari", r"Safari"),
)


def say_device(user_agent: str) -> str:
    """Such as "Firefox on Windows"."""
    browser = next((name for name, words in BROWSERS if re.search(words, user_agent)), "A browser")
    system = next((name for name, words in SYSTEMS if re.search(words, user_agent)), "")
    return f"{browser} on {system}" if system else browser
