"""The shell: what a phone keeps of the application so that the day opens without a signal, and when it is another."""

import hashlib
from functools import cache
from pathlib import Path

from django.contrib.staticfiles import finders
from django.contrib.staticfiles.storage import staticfiles_storage

FOLDER = "js/barn"
MODULES = (
    "barn.js",
    "body.js",
    "dom.js",
    "entries.js",
    "journal.js",
    "leaving.js",
    "look.js",
    "main.js",
    "measuring.js",
    "rows.js",
    "sending.js",
    "sheet.js",
    "signing.js",
    "stop.js",
    "store.js",
    "timer.js",
    "vet.js",
)
KEEPER = f"{FOLDER}/keeper.js"
BESIDE = ("js/signature.js", "css/tokens.css", "css/barn.css", "css/body_drawing.css")
ICONS = ("tick", "warning", "pen", "phone", "clock", "info")
PICTURES = ("img/favicon.svg", "img/icon-192.png", "img/icon-512.png")


def folder() -> Path:
    """Where the modules lie."""
    return Path(str(finders.find(KEEPER))).parent


def files() -> list[str]:
    return [*(f"{FOLDER}/{name}" for name in MODULES), KEEPER, *BESIDE, *PICTURES]


def addresses() -> list[str]:
    return [staticfiles_storage.url(name) for name in files()]


@cache
def version(shell: str) -> str:
    """Changes with any byte that the phone keeps: the page itself and each file of `files`."""
    digest = hashlib.sha256(shell.encode())
    for name in files():
        found = finders.find(name)
        digest.update(name.encode() + (Path(str(found)).read_bytes() if found else b""))
    return digest.hexdigest()[:16]
