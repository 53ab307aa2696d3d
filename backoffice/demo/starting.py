"""The demo from nothing: its own folder emptied, migrated, built, shown, served."""

import shutil
import time
from collections.abc import Callable
from pathlib import Path

from django.conf import settings
from django.db import connections
from django.utils import timezone

from backoffice.demo.building import build
from backoffice.demo.showing import addresses, write_documents
from backoffice.upkeep.serving import address, prepare, serve

HERE = "127.0.0.1"


def start_again(*, say: Callable[[str], None], documents: Path | None, port: int, serve_it: bool) -> None:
    began = time.monotonic()
    connections.close_all()
    shutil.rmtree(settings.VAR_DIR, ignore_errors=True)
    settings.VAR_DIR.mkdir(parents=True)
    prepare()
    host = address(bind=HERE, port=port)
    settings.PUBLIC_ADDRESS = host
    scenario, made = build(now=timezone.now(), say=lambda words: say(f"  {words}"))
    say(f"Built in {time.monotonic() - began:.0f} s.")
    if documents is not None:
        for path in write_documents(documents):
            say(f"  {path}")
    for line in addresses(scenario, made, host=host):
        say(line)
    if serve_it:
        say("Serving. Stop with Ctrl-C.")
        serve(bind=HERE, port=port)
