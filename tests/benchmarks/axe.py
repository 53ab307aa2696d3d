"""The accessibility rules over every page of the demo: `uv run python -m tests.benchmarks.axe`.

Builds nothing: run `manage.py demo --no-serve` first. One page of each address that a link leads to, on a phone and on
a laptop, in light and dark, and whether it fits when zoomed; what is found is printed, and counted at the end. Exit
status 1 if there is anything.
"""

import os
import shutil
import sys
import threading
from collections import Counter
from wsgiref.simple_server import WSGIRequestHandler, make_server

import django

PORT = 8232
SIZES = {"phone": {"width": 390, "height": 844}, "laptop": {"width": 1280, "height": 800}}
ZOOMED = {"a laptop at 200 %": {"width": 640, "height": 400}, "320 px": {"width": 320, "height": 640}}  # WCAG 1.4.10
LARGE = "letters of 200 %"  # as a reader sets them in the browser, WCAG 1.4.4


class Quiet(WSGIRequestHandler):
    def log_message(self, *args: object) -> None:
        pass


def pages() -> tuple[list[str], str]:
    """One address of each pattern, found by following links as the owner-manager; and the session to see them with."""
    from django.test import Client

    from backoffice.access.models import User
    from tests.crawl import Crawl, pattern_of

    client = Client(SERVER_NAME="127.0.0.1")
    client.force_login(User.objects.filter(role="owner_manager", is_active=True).earliest("pk"))
    crawl = Crawl(client).follow()
    first: dict[str, str] = {}
    for path, status in crawl.pages.items():
        if status == 200 and not path.startswith("/sign-out"):
            first.setdefault(pattern_of(path), path)
    shown = [path for path in sorted(first.values()) if client.get(path)["Content-Type"].startswith("text/html")]
    return shown, client.cookies["sessionid"].value


def main() -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "backoffice.settings.demo"
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    django.setup()
    from django.conf import settings
    from django.contrib.staticfiles.handlers import StaticFilesHandler
    from playwright.sync_api import sync_playwright

    from backoffice.wsgi import application
    from tests.journeys.walk import AXE, TOO_WIDE, barriers_on

    settings.ALLOWED_HOSTS = ["127.0.0.1"]
    addresses, session = pages()
    server = make_server("127.0.0.1", PORT, StaticFilesHandler(application), handler_class=Quiet)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    found: Counter[str] = Counter()
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        for size, viewport in SIZES.items():
            context = browser.new_context(viewport=viewport, reduced_motion="reduce")
            context.add_cookies([{"name": "sessionid", "value": session, "url": f"http://127.0.0.1:{PORT}"}])
            page = context.new_page()
            for address in addresses:
                page.goto(f"http://127.0.0.1:{PORT}{address}")
                page.locator("h1").first.wait_for(state="attached")  # the page in the barn is drawn by its scripts
                page.evaluate(AXE)
                for scheme, rules in (("light", {}), ("dark", {"runOnly": ["color-contrast"]})):
                    page.emulate_media(color_scheme=scheme)
                    for fault in [*page.evaluate(TOO_WIDE), *barriers_on(page, rules)]:
                        print(f"{address} ({size}, {scheme}): {fault[:300]}")
                        found[fault.partition(":")[0]] += 1
                page.emulate_media(color_scheme="light")
        for size, viewport in {**ZOOMED, LARGE: SIZES["laptop"]}.items():
            context = browser.new_context(viewport=viewport, reduced_motion="reduce")
            context.add_cookies([{"name": "sessionid", "value": session, "url": f"http://127.0.0.1:{PORT}"}])
            page = context.new_page()
            if size == LARGE:
                letters = {"fontSizes": {"standard": 32, "fixed": 26}}
                context.new_cdp_session(page).send("Page.setFontSizes", letters)
            for address in addresses:
                page.goto(f"http://127.0.0.1:{PORT}{address}")
                for fault in page.evaluate(TOO_WIDE):
                    print(f"{address} ({size}): {fault[:300]}")
                    found["too wide when zoomed"] += 1
    server.shutdown()
    print(f"{len(addresses)} addresses, on phone and laptop, in light, dark and zoomed: {sum(found.values())} findings")
    sys.exit(bool(found))


if __name__ == "__main__":
    main()
