"""The server as the README starts it, in a process of its own: it needs nothing set, and its collected scripts run."""

import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.backoffice.upkeep.test_start import ROOT, environment
from tests.journeys.conftest import SIZES

pytestmark = pytest.mark.browser
KEPT = """async (least) => {
  await navigator.serviceWorker.ready;
  const shells = await Promise.all((await caches.keys()).map(async (name) => (await caches.open(name)).keys()));
  return shells.length === 1 && shells[0].length > least;
}"""
LONGEST_START = 300  # seconds; a busy machine migrates slowly


@contextmanager
def served(folder: Path) -> Iterator[str]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", str(port)],
        cwd=ROOT,
        env=environment(folder),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    home = f"http://127.0.0.1:{port}"
    try:
        wait_for(home, server)
        yield home
    finally:
        server.terminate()
        out, _ = server.communicate(timeout=30)
    assert f"Serving {home}" in out.decode()


def wait_for(home: str, server: subprocess.Popen[bytes]) -> None:
    until = time.monotonic() + LONGEST_START
    while time.monotonic() < until:
        assert server.poll() is None, server.communicate()[1].decode()
        try:
            urllib.request.urlopen(home).close()  # noqa: S310  (our own address)
        except urllib.error.URLError:
            time.sleep(0.2)
        else:
            return
    raise AssertionError("The server did not answer in time.")


def test_serve_needs_nothing_set_and_its_pages_open_with_the_scripts_as_collected(tmp_path, new_context):
    page = new_context(viewport=SIZES["phone"]).new_page()
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.on("console", lambda message: faults.append(message.text) if message.type == "error" else None)
    with served(tmp_path) as home:
        page.goto(f"{home}/sign-in/")
        expect(page.locator("h1")).to_contain_text("Set up your back office")
        style = page.locator("link[href*='/css/app.']").get_attribute("href")
        with urllib.request.urlopen(f"{home}{style}") as answer:  # noqa: S310  (our own address)
            assert "immutable" in answer.headers["Cache-Control"], "collected, named by content"
        page.goto(f"{home}/barn/")
        expect(page.locator("h1")).to_have_text("Nothing is taken along yet")
        page.wait_for_function(KEPT, arg=15)
        # the browser's own criteria for a page to install: it objects to nothing but the test's private window
        session = page.context.new_cdp_session(page)
        objections = session.send("Page.getInstallabilityErrors")["installabilityErrors"]
        assert {each["errorId"] for each in objections} <= {"in-incognito"}
        assert faults == []
        page.context.set_offline(True)
        page.goto(f"{home}/diary/")
        expect(page.locator("h1")).to_have_text("Nothing is taken along yet")
